"""Numbers and rules taken from standards, each with its edition and source.

- `modules`: standard gear modules of ISO 54:1996, DIN 780 and JIS B 1701-2
- `racks`: basic rack proportions of ISO 53:1998 and a common stub rack
- `iso1328`: flank tolerances of ISO 1328-1:2013 and the limits of its scope
- `iso286`: tolerances, deviations and fits of ISO 286-1:2010, from its tables
- `cutters`: tooth ranges of disc-type involute milling cutter sets
- `materials`: densities, elastic and thermal values of ring and hub materials
- `yield_strength`: their yield by the size they are cut from
- `iso2768`: general tolerances of ISO 2768-1:1989
- `tooth_thickness`: tooth thickness tolerance that goes with ISO 1328
- `screws`: socket head screws (ISO 4762) and clearance holes (ISO 273)
- `preferred_numbers`: preferred sizes for pins and the like

The tables are CSV files in `data/`; every row names its source: the standard with its edition, and
what quotes it. "From memory" in a source means that no written source was at hand. No text of a
standard was seen: the numbers come from public transcriptions, compared with each other wherever
there was more than one. A source that is called unnamed, here and in all of Ringset, has no title,
author or address by which it can be found again, and carries no weight: what then stands is the
standard that is named beside it, in which a number is to be looked up, or else a guess.
"""
