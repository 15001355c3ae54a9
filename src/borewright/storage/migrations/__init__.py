"""Steps from each form of the tables to the next: forward only, one file each under `versions`."""
