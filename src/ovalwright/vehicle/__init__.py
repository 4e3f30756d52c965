"""The whole car: its compiled record and the one force law."""
