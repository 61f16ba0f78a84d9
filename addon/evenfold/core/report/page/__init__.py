"""The parts of the page that as_page puts together."""
