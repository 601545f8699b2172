"""`python -m balance` is the command `balance`."""

from balance.cli.app import main

if __name__ == "__main__":
    main()
