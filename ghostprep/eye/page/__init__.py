"""The preview page: one file that asks nothing of any other computer."""
