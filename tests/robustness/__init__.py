"""The store under bad disks, killed programs, odd files and hostile texts."""
