"""What jobs need, over HTTP: needs added and changed, and what is to be fetched for them."""
