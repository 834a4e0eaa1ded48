"""From a calculator's answer to ranked pieces in hand."""
