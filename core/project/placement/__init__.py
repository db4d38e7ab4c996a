"""Whether a package may lie somewhere, what it touches and how much room is left: the one verdict.

Problems, drawing, remarks, position strip, maps, search, tolerances, sheet, template and records
all ask here. `shapes` holds the geometry, `obstacles` what a package can meet, `verdict` the answer
for the patches of a candidate, `many` for hundreds of places, `room` how far there is to go and
what ends it, `lead` the same for the lead.
"""
