"""Present so that pytest puts this folder on the path: the tests in the folders below import its invented logs."""
