"""What a player takes: profiles, the encoder's limits, the card."""
