"""What it costs: compressors, tariffs, what a repair really saves. SI inside: W, J, m3/s of free air, Pa absolute.

compressor : specific_power(measured_j_m3=, stated_j_m3=, rated_power_w=, capacity_m3_s=, outlet_abs=)
             -> SpecificPower | None
part_load  : part_load_curve(control, storage_s=) -> PartLoadCurve; curve_from_points(capacity, power)
plant      : make_machine(name, capacity_m3_s, full_power_w, control, storage_m3, trims) -> Machine;
             Plant(machines, order), Plant.single(capacity_m3_s, full_power_w, control, storage_m3);
             plant_power(plant, demand)
saving     : repair_saving(plant, demand, repaired, hours, weights, specific_power_ratio) -> Saving(saved_j, wasted_j,
             fraction, notes, ...); NO_CAPACITY, NO_CONTROL, NO_LOAD
what_if    : pressure_reduction(plant, demand, leakage, before_abs, after_abs, hours, unregulated),
             zone_shut(plant, demand, zone_leakage, shut, hours),
             control_change(plant, changed, demand, hours) -> WhatIf
tariff     : Tariff(price_kwh, currency, bands, demand_kw_month); mean_price, demand_cost
money      : net_present_value, persisting
"""
