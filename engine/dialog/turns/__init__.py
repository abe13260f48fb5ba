"""One turn in the making: how dialogs open and end, and the lines and facts that pile up."""
