"""The application factory and the server runner."""
