"""The steps that bring a studio's database from one form to the next (Alembic)."""
