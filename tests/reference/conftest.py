"""Long comparisons run when they are asked for: `pytest tests/reference -m slow`."""


def pytest_collection_modifyitems(config, items):
    """Leave the long ones out of a run that names no marker."""
    if config.getoption("markexpr"):
        return
    long = [item for item in items if item.get_closest_marker("slow")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]
