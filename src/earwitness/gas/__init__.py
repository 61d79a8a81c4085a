"""What escapes: gases, openings, flow from level, measured flow, system tests.

The doors (SI units, absolute pressure; everything else is a part of these):

    gases.find_gas(name, composition=None) -> Gas           InputError with the nearest names
    gases.gas_state(gas, pressure_abs, temperature) -> GasState      phase "gas" | "liquid"; temperature None: saturated
    gases.reference_density(gas) -> kg/m3                    at 20 °C, 101.325 kPa
    opening.flow_through_opening(gas, pressure_abs, *, diameter | area, downstream_abs=101325, temperature=293.15,
        edge="sharp" | "rounded" | "unknown", coefficient=None, diameter_sigma=0.05, state_at=None) -> Flow
            Flow(gas, mass_flow, volume_flow, regime, coefficient, uncertain, notes, inwards); steam: temperature=None
            for saturated; gas "vacuum": pressure_abs is that of the vacuum
    from_level.known_level_reference(level_ref) -> bool
    from_level.flow_from_level(gas, level_db, pressure_abs, *, reference_known, attachment_known=False, on_axis=False,
        distance=None, background_db=None, ...) -> LevelFlow(mass_flow: Uncertain | None, volume_flow, rank_db,
        diameter, notes)
    from_level.smallest_heard(gas, background_db, distance, pressure_abs, *, reference_known, ...) -> LevelFlow
    reference.find_reference(name) / reference.measured_flow(...)    meters and reference conditions
"""
