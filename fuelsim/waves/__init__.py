"""Pressure waves in a network by the method of characteristics.

A line is cut into reaches that a wave crosses in one time step. What leaves a section at one step arrives at its
neighbours at the next, so that without friction waves are carried without error. All else sits at sections, and all of
it keeps the balance of mass to rounding: friction is a resistance in the middle of each section (half a reach's at the
ends), a cavity opens where the pressure would fall below that of vapour, and nodes join what arrives with reservoirs,
draws, dampers and every part that is no line or too short for the step.

`grid` finds the time step, `line_sweep` holds the lines, `junctions` the nodes with the links between them,
`unsteady_friction` the friction of a changing profile, `march` puts them together, `transient` is the way in.
`frequency_response` is a second method for small pulsations of the same networks, with exact lines.
"""
