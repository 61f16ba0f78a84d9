"""How a result begins that tells a fault of ours, not of the file: written and recognised in one place."""

STOPPED = "Checking stopped with"
"""What the host's ``check_file`` says, followed by the kind of the fault; a test holds it to this."""
FAILED = "The check itself failed with"
OWN_FAULTS = (STOPPED, FAILED)


def fault_in(error: str | None) -> str:
    """The kind of the fault over which the host's check stopped, such as KeyError; "" where there was none."""
    if error is None or not error.startswith(STOPPED):
        return ""
    return error.removeprefix(STOPPED).partition(":")[0].strip()
