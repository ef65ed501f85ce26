//! The compliance officer's name under the shipments.

use domain::fact::{Fact, Recorded, Signed, What};
use domain::ids::FactKey;
use domain::job::{Job, JobKind};
use domain::moment::{MINUTE_MS, Precision, When};

use super::Made;
use super::dice::Dice;
use super::floor::Floor;

/// Until the officer looked at the papers and put a name under them.
const SIGNED_AFTER_MS: i64 = 26 * MINUTE_MS;

/// Signs every shipment on the day it left; only the last one still waits.
pub(super) fn sign_shipments(floor: &mut Floor) -> Made<()> {
    let is_shipment = |recorded: &&Recorded| {
        matches!(
            recorded.fact.what,
            What::Job(Job {
                kind: JobKind::Ship,
                ..
            })
        )
    };
    let mut shipments: Vec<(FactKey, When)> = floor
        .facts
        .iter()
        .filter(is_shipment)
        .map(|recorded| (recorded.key, recorded.fact.when))
        .collect();
    shipments.sort_by_key(|(_, when)| when.happened());
    shipments.pop();
    let by = floor.in_the_office("P12")?;
    for (fact, when) in shipments {
        let at = when.happened().plus_ms(SIGNED_AFTER_MS);
        // Dice of its own: a signature must not change what happens in the yards.
        let mut dice = Dice::named(floor.seed, &format!("signed {fact}"));
        floor.facts.push(Recorded {
            key: FactKey(dice.id()),
            received_at: at,
            fact: Fact {
                when: When {
                    happened_at: at,
                    precision: Precision::Minute,
                    made_at: at,
                    clock_offset_ms: 0,
                    ..when
                },
                by: by.clone(),
                what: What::Signed(Signed { fact }),
            },
        });
    }
    Ok(())
}
