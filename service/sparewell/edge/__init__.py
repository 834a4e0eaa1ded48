"""What every view needs: errors, sign-in, paging, idempotency."""
