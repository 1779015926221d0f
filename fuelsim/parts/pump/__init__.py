"""The electric pump: from bench rows to the curve that the network sees.

The equations are stated in two laws:

- `fuelsim.laws.motor`: the bench curve at another voltage, behind a wire, slowed, relieved, worn and with vapour,
  q = s + A(s) (V - V_bench), p = P(s);
- `fuelsim.laws.pump_curve`: the link equation of the resulting table, p_down = p_up + r(q).

The modules, in the order in which a value passes them: `bench_tables` reads rows and fits scattered ones, `construct`
makes a `Pump` from them, `pump` holds the ratings, `pump_map` turns bench rows into the map P(s), I(s), A(s), and
`running_pump` gives the curve, current and heat of the pump under given conditions. `pump_types` holds what is typical
of each kind of pump.
"""
