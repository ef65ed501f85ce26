//! Every calculation's worked rows.

use std::collections::HashMap;

use domain::calculation::{Calculation, Dimension, Entered};

use crate::table::Row;

/// The name of each calculation and the table of its rows.
pub(crate) const WORKED: [(&str, &str); 21] = [
    ("freeze", include_str!("../../tables/vectors_freeze.csv")),
    (
        "freeze-inverse",
        include_str!("../../tables/vectors_freeze_inverse.csv"),
    ),
    (
        "freeze-rising-branch",
        include_str!("../../tables/vectors_freeze_rising_branch_eg.csv"),
    ),
    (
        "composition",
        include_str!("../../tables/vectors_composition.csv"),
    ),
    ("density", include_str!("../../tables/vectors_density.csv")),
    (
        "vapour-pressure",
        include_str!("../../tables/vectors_vapour_pressure.csv"),
    ),
    ("boiling", include_str!("../../tables/vectors_boiling.csv")),
    (
        "flash-under-vacuum",
        include_str!("../../tables/vectors_flash_under_vacuum.csv"),
    ),
    ("isa", include_str!("../../tables/vectors_isa.csv")),
    (
        "vacuum-draw",
        include_str!("../../tables/vectors_a_vacuum_draw.csv"),
    ),
    (
        "repeated-pulls",
        include_str!("../../tables/vectors_a_repeated_pulls.csv"),
    ),
    (
        "cap-left-on",
        include_str!("../../tables/vectors_a_cap_left_on.csv"),
    ),
    (
        "pressure-fill",
        include_str!("../../tables/vectors_b_pressure_fill.csv"),
    ),
    (
        "recharges",
        include_str!("../../tables/vectors_b_recharges.csv"),
    ),
    (
        "retrofit-hold",
        include_str!("../../tables/vectors_c_retrofit_hold.csv"),
    ),
    (
        "pressure-decay",
        include_str!("../../tables/vectors_d_pressure_decay.csv"),
    ),
    (
        "hidden-leak",
        include_str!("../../tables/vectors_d_hidden_leak.csv"),
    ),
    (
        "drain-replace",
        include_str!("../../tables/vectors_e_drain_replace.csv"),
    ),
    (
        "blend-recovered",
        include_str!("../../tables/vectors_e_blend_recovered.csv"),
    ),
    (
        "uncertainty-reading",
        include_str!("../../tables/vectors_uncertainty_reading.csv"),
    ),
    (
        "uncertainty-dose",
        include_str!("../../tables/vectors_uncertainty_dose.csv"),
    ),
];

/// The figures of a row, in the order of the inputs.
pub(crate) fn entered(calculation: &Calculation, row: &HashMap<String, String>) -> Vec<Entered> {
    let inputs = calculation.inputs.iter();
    inputs
        .map(|input| match input.dimension {
            Dimension::Glycol => Entered::Glycol(row.glycol()),
            _ => Entered::Number(row.number(input.column)),
        })
        .collect()
}
