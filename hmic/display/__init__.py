"""The software display: a pack store on flash, the session, the painter and the loop around them."""
