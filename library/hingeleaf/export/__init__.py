"""Write panels to files at true size."""
