"""An album made of variants that were kept: its files, one continuous proof, and the sheet of their order."""
