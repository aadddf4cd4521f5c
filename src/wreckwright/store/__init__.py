"""Database, migrations, photographs and journal: everything that is kept. Imports record."""
