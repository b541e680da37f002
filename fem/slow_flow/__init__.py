"""The melt's slow flow: velocity and pressure, the push that it takes, the feeder that slips."""
