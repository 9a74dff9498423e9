"""Where recordings and labels lie: a folder of the disk, or a store of objects."""
