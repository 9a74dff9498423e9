"""The studio in the browser: routes as a table, the guard, views."""
