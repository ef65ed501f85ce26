//! Rows beside the worked cases: a gram, a day, a millilitre, a hundredth to either side.
//!
//! What is expected follows from the same sections as the case; where the notation is our own,
//! the row says so.

use crate::{asked, got};

const FEDERAL: &str = "us-fed-2026";

fn all(topic: &str, id: &str, expected: &[(&str, &str)]) {
    for (inputs, wanted) in expected {
        assert_eq!(got(topic, id, inputs), *wanted, "{topic} {id} {inputs}");
    }
}

#[test]
fn a_gram_decides_the_class() {
    all(
        "category",
        FEDERAL,
        &[
            ("nonacute_g=99999", "VSQG"),
            ("nonacute_g=100001;acute_g=0", "SQG"),
            ("nonacute_g=1000000;acute_g=0", "LQG"),
            ("nonacute_kg=100", "VSQG"),
            ("nonacute_kg=100.001", "SQG"),
            // A part of a gram is over, whatever it rounds to.
            ("nonacute_g=100000.0001", "SQG"),
            ("nonacute_g=0;acute_g=1001", "LQG"),
            ("nonacute_g=50000;acute_g=0;acute_spill_g=100000", "VSQG"),
            ("nonacute_g=50000;acute_g=0;acute_spill_g=100001", "LQG"),
            ("coolant_hw_g=92000;other_hw_g=8000", "VSQG"),
            ("coolant_hw_g=92001;other_hw_g=8000", "SQG"),
            // 100 kg is 220.46 lb.
            ("nonacute_lb=220.46", "VSQG"),
            ("nonacute_lb=220.47", "SQG"),
            (
                "volume_ml=93457;density_g_per_ml=1.07;hazardous=true",
                "VSQG",
            ),
            (
                "volume_ml=93458;density_g_per_ml=1.07;hazardous=true",
                "SQG",
            ),
            (
                "volume_ml=100000;density_g_per_ml=1.07;hazardous=false",
                "VSQG",
            ),
            ("volume_l=100;density_g_per_ml=1.07;hazardous=true", "SQG"),
        ],
    );
    all(
        "category",
        "us-state-mqg-45-60",
        &[("nonacute_g=100001", "SQG")],
    );
}

#[test]
fn what_counts_counts_once() {
    all(
        "counting",
        FEDERAL,
        &[
            (
                "recovered_g=120000;determination=hazardous",
                "counted_g=120000;category=SQG",
            ),
            (
                "recovered_g=120000;disposition=returned_to_service_without_reclamation;fit_for_use_test=fail",
                "counted_g=120000;category=SQG",
            ),
            // Our own notation.
            (
                "recovered_g=120000;determination=pending",
                "counted_g=0;category=VSQG;worst_case_g=120000;worst_case_category=SQG",
            ),
            (
                "spent_hazardous_g=60000;onsite_reclaim_cycles_in_month=0",
                "counted_g=60000;category=VSQG",
            ),
            (
                "spent_hazardous_g=100001;onsite_reclaim_cycles_in_month=1",
                "counted_g=100001;category=SQG",
            ),
            (
                "generated_this_month_g=100000;moved_from_storage_to_truck_g=150000",
                "counted_g=100000;category=VSQG",
            ),
            (
                "episodic_event_g=700000;normal_g=60000;event_conditions_met=false",
                "counted_g=760000;category=SQG",
            ),
            (
                "episodic_event_g=940000;normal_g=60000;event_conditions_met=false",
                "counted_g=1000000;category=LQG",
            ),
            // Day 60 is in time, day 61 is not; a missing day is not.
            (
                "episodic_event_g=700000;normal_g=60000;event_start=2026-01-15;event_shipped=2026-03-16",
                "counted_g=60000;category=VSQG",
            ),
            (
                "episodic_event_g=700000;normal_g=60000;event_start=2026-01-15;event_shipped=2026-03-17",
                "counted_g=760000;category=SQG",
            ),
            (
                "episodic_event_g=700000;normal_g=60000;event_start=2026-01-15;event_shipped=none",
                "counted_g=760000;category=SQG",
            ),
            (
                "recovered_g=120000;prior_storage=false",
                "counted_g=0;category=VSQG",
            ),
            (
                "recovered_g=120000;recycled=true",
                "counted_g=120000;category=SQG",
            ),
            ("used_oil_g=900000;normal_g=1", "counted_g=1;category=VSQG"),
            (
                "month_a_g=100000;month_b_g=100001;month_c_g=1000000;month_d_g=0",
                "VSQG,SQG,LQG,VSQG",
            ),
        ],
    );
}

#[test]
fn the_month_is_that_of_the_drain_or_of_the_decision() {
    all(
        "counting",
        FEDERAL,
        &[
            (
                "drained=2026-03-31;fit_test=fail;decided=2026-04-01;hazardous=true;g=60000",
                "month=2026-03",
            ),
            (
                "drained=2026-04-01;fit_test=fail;decided=2026-04-01",
                "month=2026-04",
            ),
            (
                "drained=2025-12-31;fit_test=pass;decided_discard=2026-01-01;hazardous=true;g=60000",
                "month=2026-01",
            ),
            ("drained=2028-02-29;fit_test=fail", "month=2028-02"),
            // Our own notation: no waste yet, and nobody has said.
            ("drained=2026-03-30;fit_test=pass", "month=none"),
            (
                "drained=2026-03-30;decided=2026-04-03",
                "month=pending;worst_case_month=2026-03",
            ),
        ],
    );
    assert!(
        asked(
            "counting",
            FEDERAL,
            "drained=2026-03-30;fit_test=fail;decided=2026-03-29"
        )
        .is_err()
    );
    assert!(asked("counting", FEDERAL, "drained=2026-02-29;fit_test=fail").is_err());
}

#[test]
fn states_differ_in_kind() {
    let universal = "us-state-universal-waste";
    all(
        "counting",
        universal,
        &[
            (
                "recovered_g=400000;recycled=false",
                "counted_g=400000;category=SQG",
            ),
            (
                "recovered_g=400000;recycled=true;other_hw_g=100001",
                "counted_g=100001;category=SQG",
            ),
        ],
    );
    let criterion = "us-state-eg-criterion";
    all(
        "counting",
        criterion,
        &[
            (
                "eg_mass_fraction=0.10;tclp=all_below;recycled=false",
                "hazardous=true(state)",
            ),
            ("eg_mass_fraction=0.0999;tclp=all_below", "hazardous=false"),
            ("eg_mass_fraction=0.09;tclp=D008", "hazardous=true"),
            ("eg_mass_fraction=0.09", "indeterminate"),
            (
                "recovered_g=120000;eg_mass_fraction=0.5;tclp=all_below;best_practice=true",
                "counted_g=0;category=VSQG",
            ),
            (
                "recovered_g=120000;eg_mass_fraction=0.5;tclp=all_below;best_practice=false",
                "counted_g=120000;category=SQG",
            ),
        ],
    );
    // The federal rule has no criterion for glycol.
    all(
        "counting",
        FEDERAL,
        &[("eg_mass_fraction=0.12;tclp=all_below", "hazardous=false")],
    );
    all(
        "counting",
        "us-state-presumed-hazardous",
        &[
            (
                "recovered_g=120000;determination=non_hazardous",
                "counted_g=120000;category=SQG",
            ),
            (
                "recovered_g=120000;disposition=returned_to_service_without_reclamation;fit_for_use_test=pass",
                "counted_g=0;category=VSQG",
            ),
        ],
    );
    all(
        "counting",
        "us-state-best-practice",
        &[(
            "recovered_g=120000;best_practice=true",
            "counted_g=0;category=VSQG",
        )],
    );
}

#[test]
fn a_result_at_the_limit_carries_the_code() {
    all(
        "determination",
        FEDERAL,
        &[
            ("analyte=lead;result_mg_l=4.999999", "none"),
            ("analyte=Lead;result_mg_l=5", "D008"),
            ("analyte=arsenic;result_mg_l=5.0", "D004"),
            ("analyte=arsenic;result_mg_l=4.99", "none"),
            ("analyte=barium;result_mg_l=100", "D005"),
            ("analyte=selenium;result_mg_l=0.99", "none"),
            ("analyte=silver;result_mg_l=5.0", "D011"),
            ("analyte=mercury;result_mg_l=0.199", "none"),
            ("analyte=mercury;result_ug_l=200", "D009"),
            ("analyte=benzene;result_mg_l=0.49", "none"),
            ("analyte=trichloroethylene;result_mg_l=0.499", "none"),
            ("analyte=lead;result=<0.05", "none"),
            ("analyte=lead;result=<5.0", "none"),
            ("analyte=lead;result=<5.1", "indeterminate"),
            ("analyte=lead;result=ND;reporting_limit_mg_l=5", "none"),
            (
                "analyte=lead;result=ND;reporting_limit_mg_l=5.01",
                "indeterminate",
            ),
            ("analyte=lead;result=not_detected", "indeterminate"),
            ("analyte=lead;result=6000 ug/L", "D008"),
            ("ph=12.49", "none"),
            ("ph=12.6", "D002"),
            ("ph=2.01", "none"),
            ("ph=1.9", "D002"),
            (
                "ph=12.5;lead_mg_l=5.0;cadmium_mg_l=<0.5;benzene_mg_l=0.5",
                "D002,D008,D018",
            ),
            // One that proves nothing does not hide one that carries a code, nor pass for clear.
            ("lead_mg_l=<10;cadmium_mg_l=1.0", "D006"),
            ("lead_mg_l=<10;cadmium_mg_l=0.1", "indeterminate"),
            (
                "filterable_solids_pct=0.49;analyte=lead;total_mg_l=5.0",
                "D008",
            ),
            (
                "filterable_solids_pct=0.5;analyte=lead;total_mg_l=6.0",
                "indeterminate",
            ),
            (
                "filterable_solids_pct=3;analyte=lead;total_mg_l=4.9",
                "none",
            ),
            ("analyte=zinc;result_mg_l=400", "indeterminate"),
            (
                "knowledge=never in a soldered radiator;hazardous=false",
                "hazardous=false",
            ),
        ],
    );
    assert!(asked("determination", FEDERAL, "analyte=lead").is_err());
    assert!(asked("determination", FEDERAL, "analyte=lead;result=some").is_err());
    assert!(asked("determination", FEDERAL, "").is_err());
}

#[test]
fn a_share_at_the_limit_makes_the_entry_and_rules_without_one_prove_nothing() {
    for id in ["eu", "uk"] {
        all(
            "determination",
            id,
            &[
                ("eg_mass_fraction=0.25", "16 01 14*"),
                ("eg_mass_fraction=0.2499;other_hazards=none", "16 01 15"),
                ("eg_mass_fraction=0.08;other_hazards=HP 14", "16 01 14*"),
                // Analytes decide nothing there: the list asks for the share.
                ("analyte=lead;result_mg_l=6.8", "indeterminate"),
                (
                    "analyte=lead;result_mg_l=6.8;eg_mass_fraction=0.1;other_hazards=none",
                    "16 01 15",
                ),
            ],
        );
    }
    // Rules that hold no figure prove nothing either way.
    all(
        "determination",
        "ca",
        &[
            ("eg_mass_fraction=0.5", "indeterminate"),
            ("eg_mass_fraction=0;other_hazards=none", "indeterminate"),
            ("analyte=lead;result_mg_l=0.1", "indeterminate"),
            ("ph=8.1", "indeterminate"),
        ],
    );
    all(
        "determination",
        "us-state-eg-criterion",
        &[
            (
                "eg_mass_fraction=0.10;tclp=all_below",
                "hazardous=true(state)",
            ),
            ("eg_mass_fraction=0.0999;tclp=all_below", "hazardous=false"),
            ("tclp=all_below", "indeterminate"),
            ("lead_mg_l=6.8", "D008"),
        ],
    );
}

#[test]
fn a_clock_ends_on_its_day() {
    all(
        "accumulation",
        FEDERAL,
        &[
            (
                "category=SQG;start=2026-01-15;as_of=2026-07-14",
                "deadline=2026-07-14;days_left=0",
            ),
            (
                "category=SQG;start=2026-01-15;as_of=2026-07-15",
                "deadline=2026-07-14;days_left=-1",
            ),
            (
                "category=SQG;start=2026-01-15;tsdf_miles=200",
                "deadline=2026-07-14",
            ),
            (
                "category=SQG;start=2026-01-15;tsdf_miles=200.1",
                "deadline=2026-10-12",
            ),
            (
                "category=SQG;start=2026-01-15;tsdf_km=321.8688",
                "deadline=2026-07-14",
            ),
            (
                "category=SQG;start=2026-01-15;tsdf_km=321.8689",
                "deadline=2026-10-12",
            ),
            (
                "category=LQG;start=2026-01-15;tsdf_miles=500",
                "deadline=2026-04-15",
            ),
            ("category=LQG;start=2027-12-01", "deadline=2028-02-29"),
            ("category=LQG;start=2026-12-01", "deadline=2027-03-01"),
            (
                "category=LQG;start=2026-01-15;extension_days=30",
                "deadline=2026-05-15",
            ),
            (
                "category=SQG;start=2026-01-15;tsdf_miles=201;extension_days=1",
                "deadline=2026-10-13",
            ),
        ],
    );
}

#[test]
fn what_lies_on_site_decides_whose_conditions_apply() {
    all(
        "accumulation",
        FEDERAL,
        &[
            (
                "category=VSQG;start=2025-01-02;onsite_g=999999",
                "deadline=none",
            ),
            ("category=VSQG;onsite_g=999999", "ok"),
            ("category=VSQG;onsite_g=999999;reached=none", "ok"),
            ("category=VSQG;onsite_g=1000000", "conditions=SQG"),
            (
                "category=VSQG;onsite_g=1000000;reached=2026-03-05;tsdf_miles=201",
                "conditions=SQG;deadline=2026-11-30",
            ),
            (
                "category=VSQG;onsite_g=1000000;reached=2026-03-05;as_of=2026-09-02",
                "conditions=SQG;deadline=2026-09-01;days_left=-1",
            ),
            (
                "category=VSQG;onsite_g=6000001;reached=2026-03-05",
                "conditions=SQG;deadline=2026-09-01;onsite=exceeded",
            ),
            ("category=SQG;onsite_g=5999999", "ok"),
            ("category=LQG;onsite_g=9000000", "ok"),
            (
                "category=SQG;start=2026-01-15;onsite_g=6000001",
                "deadline=2026-07-14;onsite=exceeded",
            ),
            (
                "category=small quantity generator;start=2026-01-15",
                "deadline=2026-07-14",
            ),
        ],
    );
}

#[test]
fn a_year_ends_on_its_date_and_some_days_cannot_be_said() {
    all(
        "accumulation",
        "us-state-universal-waste",
        &[
            ("start=2028-02-29", "deadline=2029-03-01"),
            ("start=2027-02-28", "deadline=2028-02-28"),
            (
                "start=2026-02-01;as_of=2027-01-31",
                "deadline=2027-02-01;days_left=1",
            ),
            (
                "start=2026-02-01;category=LQG;stream=solvent",
                "deadline=2026-05-02",
            ),
        ],
    );
    for wrong in [
        "category=SQG;start=2026-01-15;extension_days=31",
        "category=SQG;start=2026-02-29",
        "category=SQG",
        "category=XQG;start=2026-01-15",
        "start=2026-01-15",
        "category=SQG;start=2026-01-15;start=2026-01-16",
    ] {
        assert!(asked("accumulation", FEDERAL, wrong).is_err(), "{wrong}");
    }
}

#[test]
fn areas_looks_and_empty_containers() {
    all(
        "satellite",
        FEDERAL,
        &[
            ("saa_volume_gal=55.0001", "exceeded"),
            ("saa_volume_ml=208197", "ok"),
            (
                "saa_volume_ml=208198;excess_date=2026-05-10",
                "move_by=2026-05-13",
            ),
            ("saa_volume_gal=54.9;excess_date=none", "ok"),
            (
                "saa_volume_gal=60;excess_date=2028-02-27",
                "move_by=2028-03-01",
            ),
            (
                "saa_volume_gal=60;excess_date=2026-12-30;as_of=2027-01-03",
                "move_by=2027-01-02;days_left=-1",
            ),
            ("saa_acute_g=1000", "ok"),
            ("saa_acute_g=1001", "exceeded"),
            ("saa_acute_ml=947", "exceeded"),
            (
                "category=SQG;moved_to_central=2026-05-12",
                "deadline=2026-11-08",
            ),
        ],
    );
    all(
        "inspection",
        FEDERAL,
        &[
            (
                "last_inspection=2026-06-01;as_of=2026-06-08",
                "due=2026-06-08;overdue_days=0",
            ),
            (
                "last_inspection=2026-06-01;as_of=2026-06-02",
                "due=2026-06-08;overdue_days=0",
            ),
            (
                "last_inspection=2028-02-25;as_of=2028-03-05",
                "due=2028-03-03;overdue_days=2",
            ),
            ("last_inspection=2026-06-01;category=VSQG", "due=none"),
            ("last_inspection=2026-06-01;category=SQG", "due=2026-06-08"),
        ],
    );
    all(
        "empty",
        FEDERAL,
        &[
            ("residue_in=1", "empty"),
            ("residue_in=1.01", "not_empty"),
            ("residue_mm=25.4", "empty"),
            ("residue_pct=3;capacity_gal=119", "empty"),
            ("residue_pct=3.01;capacity_gal=119", "not_empty"),
            ("residue_pct=3;capacity_gal=119.1", "not_empty"),
            ("residue_pct=0.3;capacity_gal=275", "empty"),
        ],
    );
}

#[test]
fn what_cannot_be_answered_says_why() {
    let problem = |topic, id, inputs| asked(topic, id, inputs).unwrap_err();
    assert_eq!(
        problem("category", "eu", "nonacute_g=1"),
        "profile eu has no classes of generators"
    );
    assert!(problem("weather", FEDERAL, "a=1").contains("none of the topics"));
    assert!(problem("category", FEDERAL, "nonacute_g=-1").contains("no number"));
    assert!(problem("category", FEDERAL, "nonacute_g=1;nonacute_kg=1").contains("two units"));
    assert!(problem("category", FEDERAL, "nonacute").contains("key=value"));
    let found = asked("category", FEDERAL, "nonacute_g=1;colour=green").unwrap();
    assert_eq!(found.unused, ["colour"]);
}
