r"""The hydraulic solver: one equation per link, one mass balance per node, all operating points of a batch at once.

**Unknowns.** The flow :math:`q_j` of every link and the pressure :math:`p_i` of every node that is no reservoir.

**Equations.** Every link j from node u to node d, with static head :math:`h_j = \rho g (z_u - z_d)`, has one equation
of its law, either a loss that depends on its flow alone,

.. math:: E_j = \Delta p_j(q_j) - (p_u - p_d + h_j) = 0,

or any equation of its flow and three pressures, r being the node to which the law refers,

.. math:: E_j(q_j, p_u, p_d, p_r) = 0, \qquad
          \frac{\partial E}{\partial q} = s > 0, \quad \frac{\partial E}{\partial p_u} = -a_u, \quad
          \frac{\partial E}{\partial p_d} = a_d, \quad \frac{\partial E}{\partial p_r} = a_r.

Every node i with draw :math:`D_i` conserves mass,

.. math:: F_i = \sum_{j \text{ into } i} q_j - \sum_{j \text{ out of } i} q_j - D_i = 0.

**Newton step.** With :math:`g_j = 1 / s_j` the linearised link equation gives the change of its flow,

.. math:: \delta q_j = g_j (a_u\, \delta p_u - a_d\, \delta p_d - a_r\, \delta p_r - E_j),

which put into the mass balances leaves one linear equation per node (the global gradient method of Todini and Pilati
1988 [todini_pilati_1988]):

.. math:: \sum_j \pm\, g_j (a_u\, \delta p_u - a_d\, \delta p_d - a_r\, \delta p_r)
          = -F_i + \sum_j \pm\, g_j E_j ,

the sign + for links into node i and - for links out of it.

**Stop rule.** Every :math:`|E_j| < 1` Pa, every :math:`|g_j E_j|` and every :math:`|F_i|` below
:math:`10^{-6}` of the largest flow of the point.

Order of reading:

========================  ==============================================================================
`topology`                which link joins which nodes and follows which law
`contraction`             dead ends and series links taken out, so that few unknowns remain
`elimination`             the linear system of the pressures, for all points together
`loops`                   the same step by the flows around loops, where these are fewer than the pressures
`column_sum_elimination`  the same for badly scaled systems
`plan`                    index arrays made once per topology
`coefficients`            coefficients of each law's links, and where they turn steep
`equations`               a batch, and its link equations evaluated
`assemble`                from parts, liquids and draws to a batch
`newton`                  iterate, step, stop rule
`shared_start`            starts of all points from the solution of their mean
`initial_guess`           starts of a large batch interpolated between a few solved points
`pseudo_transient`        continuation in time, for networks whose pressures depend on leaks
`fallbacks`               damped steps and continuation where plain steps do not converge
`solve`                   the order of all these, and the results spread to every node and link
`failure_reasons`         outcome of each point, with a sentence
========================  ==============================================================================
"""
