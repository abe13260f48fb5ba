"""What a dialog file must keep to, beyond its schema: refused at load with place and mend."""
