"""Result tables as CSV files and as text for the terminal."""
