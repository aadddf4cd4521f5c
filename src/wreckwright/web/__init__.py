"""The face in the browser: parses, calls one act, shows. No arithmetic."""
