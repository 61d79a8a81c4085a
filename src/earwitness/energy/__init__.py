"""What it costs: compressors, tariffs, what a repair really saves. SI inside: W, J, m3/s of free air, Pa absolute.

compressor : specific_power(measured_j_m3=, stated_j_m3=, rated_power_w=, capacity_m3_s=, outlet_abs=)
             -> SpecificPower | None
part_load  : part_load_curve(control, storage_s=) -> PartLoadCurve; curve_from_points(capacity, power)
plant      : Machine(name, capacity_m3_s, full_power_w, curve, trims), Plant(machines, order);
             plant_power(plant, demand)
saving     : wasted_energy(flow, specific_power, hours) -> J a year;
             repair_saving(plant, demand, repaired, hours, weights, specific_power_ratio) -> Saving(saved_j, wasted_j,
             fraction, notes, ...); no_capacity_note()
what_if    : pressure_reduction, zone_shut, control_change -> WhatIf
tariff     : energy_cost, demand_cost, grid_carbon, gas_carbon; money: simple_payback, net_present_value, persisting
"""
