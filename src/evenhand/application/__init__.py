"""What people do, one file an act. The outside (files, containers) comes in through ports."""
