"""What a workshop's own outcomes say of the numbers of the trade."""
