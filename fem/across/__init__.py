"""Sections across the flow: several channels in place of one bore, from their own solutions to an equivalent passage."""
