"""A mix looked over before the work: a module a group of findings; `listening` hears it once and runs them all."""
