"""`python -m aligner` is the command `aligner`."""

from aligner.cli.main import main

if __name__ == "__main__":
    main()
