"""The use cases, the only thing the faces call: files, clock, transactions. Imports all rooms but faces and papers."""
