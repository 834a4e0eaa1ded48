"""Springs: coils, and the bars that press a sac."""
