"""Views: what answers at each door (see ``web/doors.py``), a module a place."""
