"""The display side in portable C99, as package data. PLAYER.md says what stands."""
