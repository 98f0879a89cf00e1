"""From a posterior to intervals, caps and dates."""
