"""The purser and the ticket hall, painted in linear light."""
