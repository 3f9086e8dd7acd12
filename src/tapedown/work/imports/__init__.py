"""What is taken in: tables and packages of others."""
