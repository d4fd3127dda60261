"""The line between host and display: frames, messages, sessions, transfer. See PROTOCOL.md."""
