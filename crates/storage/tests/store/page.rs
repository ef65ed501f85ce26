//! What a page of one place, one shop or one day reads: held against the book in memory.

use crate::shop::{
    HOUR, Numbers, PERSON, SHOP, START, Shop, fact, fill, job, litres, movement, place, raw,
    recover, run, the_loop, unit_card, vessel, void,
};
use domain::book::chemistry::Chemistry;
use domain::book::outcome::{Knowledge, Posting, Standing, Why};
use domain::fact::{Merged, MovedToShop, Retired, What};
use domain::fleet::{Tool, Unit};
use domain::fluid::Glycol;
use domain::ids::{FactKey, PlaceId, ShopId, UnitId};
use domain::job::{Account, DipRead, Job, JobKind, Line, Mark, Measured, Reading};
use domain::moment::{DAY_MS, Moment};
use domain::quantity::entry::read;
use std::sync::Arc;
use storage::{AfterUnit, LoopFigures, PlaceBalance, UnitSearch};
use uuid::Uuid;

/// Everything below happens before the clock of the shop.
const BEGAN: i64 = START - 80 * HOUR;

fn unit(n: u128) -> UnitId {
    UnitId(Uuid::from_u128(0x3000 + n))
}

fn top_up(n: u128, volume: &str) -> What {
    What::Job(Job {
        mark: Some(Mark::At),
        ..job(
            JobKind::TopUp,
            n,
            vec![movement(Account::Supplier, the_loop(n), volume)],
        )
    })
}

/// Draws, fills, tops up and dips two units and a cart over three days.
async fn busy() -> Shop {
    let shop = Shop::fitted_out().await;
    for (hours, what) in [
        (0, recover(0, "30 L")),
        (1, fill(0, "20 L")),
        (30, top_up(0, "2.5 L")),
        (31, recover(1, "12 L")),
        (50, fill(1, "11 L")),
        (51, top_up(1, "0.4 L")),
        (
            52,
            What::Job(Job {
                unit: None,
                place: Some(vessel(0)),
                ..job(
                    JobKind::Dip,
                    0,
                    vec![Line::Dip(DipRead {
                        place: vessel(0),
                        volume: litres("405 L"),
                        temperature: None,
                        gauge: None,
                        gauge_error: None,
                        fluid: None,
                    })],
                )
            }),
        ),
    ] {
        shop.put(fact(BEGAN + hours * HOUR, what)).await.unwrap();
    }
    shop
}

#[tokio::test]
async fn one_place_and_the_loops_of_one_unit_hold_what_the_list_of_all_says() {
    let shop = busy().await;
    let mut read = shop.store.read().await.unwrap();
    let all = read.list_contents().await.unwrap();
    let of = |id| all.iter().find(|held| held.place == id).cloned();
    for account in [the_loop(0), the_loop(1), vessel(0)] {
        let found = read.find_place(place(account)).await.unwrap();
        assert!(found.is_some());
        assert_eq!(found, of(place(account)));
    }
    assert_eq!(
        read.find_place(PlaceId(Uuid::from_u128(9))).await.unwrap(),
        None
    );
    let loops = read.list_places_of_unit(unit(1)).await.unwrap();
    assert_eq!(loops, vec![of(place(the_loop(1))).unwrap()]);

    let vessels = read.list_vessels_of_shop_with_contents(SHOP).await.unwrap();
    let names: Vec<_> = vessels
        .iter()
        .map(|vessel| vessel.card.name.as_str())
        .collect();
    assert_eq!(names, ["cart 0", "cart 1", "cart 2"]);
    assert_eq!(vessels[0].held, of(place(vessel(0))));
    // Nothing ever happened to this one.
    assert_eq!(vessels[1].held, None);

    let names = read
        .list_place_names(&[place(the_loop(1)), place(vessel(2)), PlaceId(Uuid::nil())])
        .await
        .unwrap();
    let mut names: Vec<_> = names
        .into_iter()
        .map(|named| (named.name, named.unit.map(|(_, number)| number)))
        .collect();
    names.sort();
    assert_eq!(
        names,
        [
            ("cart 2".to_owned(), None),
            ("engine".to_owned(), Some("2101".to_owned()))
        ]
    );
}

#[tokio::test]
async fn the_board_has_every_loop_of_units_in_use_with_the_figures_of_the_book() {
    let shop = busy().await;
    shop.put(fact(
        BEGAN + 60 * HOUR,
        What::Retired(Retired {
            unit: Some(unit(2)),
            places: vec![the_loop(2)],
            reason: None,
        }),
    ))
    .await
    .unwrap();
    let mut read = shop.store.read().await.unwrap();
    let board = read.list_loop_figures(SHOP).await.unwrap();
    let numbers: Vec<_> = board.iter().map(|row| row.unit_number.as_str()).collect();
    assert_eq!(numbers, ["2100", "2101", "2103", "2104", "2105"]);
    assert_eq!(board[0].capacity_ml, Some(40_000));
    assert_eq!(board[2].state, None);
    let later = Moment(BEGAN + 100 * DAY_MS);
    for (row, account) in board.iter().zip([the_loop(0), the_loop(1)]) {
        let state = row.state.unwrap();
        let (known, of_place) = (
            state.known(later),
            read.find_place(row.place).await.unwrap().unwrap(),
        );
        assert_eq!(Some(known), of_place.known(later));
        let sigma = shop
            .store
            .with_book(|book| {
                let held = book.place(place(account)).unwrap();
                assert_eq!(held.figures(), state.figures);
                assert_eq!(Chemistry::of(&held.contents), state.chemistry);
                assert_eq!(state.chemistry, Chemistry::One(Glycol::Eg));
                held.sigma_at(account, later)
            })
            .await
            .unwrap();
        assert_eq!(known.figures.sigma_millionths, sigma);
        assert!(sigma > state.figures.sigma_millionths);
    }
    assert_eq!(
        board[1].state.unwrap().changed_at,
        Some(Moment(BEGAN + 51 * HOUR))
    );
    let elsewhere = ShopId(Uuid::from_u128(1));
    assert!(read.list_loop_figures(elsewhere).await.unwrap().is_empty());
}

/// What is kept between two reads must never be what the record said before.
#[tokio::test]
async fn the_board_follows_every_fact_and_card_and_stays_that_of_a_reader_who_began_before() {
    let shop = busy().await;
    let other = ShopId(Uuid::from_u128(0x52));
    let mut early = shop.store.read().await.unwrap();
    let first = early.list_loop_figures(SHOP).await.unwrap();
    let mut numbers = Numbers(5);
    let mut last = Arc::clone(&first);
    for n in 0..60 {
        let at = BEGAN + i64::try_from(numbers.below(70)).unwrap() * HOUR + n;
        let on = u128::from(numbers.below(6));
        let what = match n % 6 {
            0 => recover(on, "3 L"),
            1 => fill(on, "2 L"),
            2 => top_up(on, "0.3 L"),
            3 => What::MovedToShop(MovedToShop::Unit {
                unit: unit(on),
                shop: if numbers.below(2) == 0 { SHOP } else { other },
            }),
            4 => match unit_card(on) {
                What::Unit(card) => What::Unit(Unit {
                    kind: format!("kind {n}"),
                    ..card
                }),
                what => what,
            },
            _ => void(FactKey(Uuid::from_u128(u128::from(numbers.below(90))))),
        };
        shop.put(fact(at, what)).await.unwrap();
        if n == 40 {
            let retired = What::Retired(Retired {
                unit: Some(unit(3)),
                places: vec![the_loop(3)],
                reason: None,
            });
            shop.put(fact(BEGAN + 71 * HOUR, retired)).await.unwrap();
        }
        let mut read = shop.store.read().await.unwrap();
        for of in [SHOP, other] {
            let board = read.list_loop_figures(of).await.unwrap();
            let again = read.list_loop_figures(of).await.unwrap();
            assert!(Arc::ptr_eq(&board, &again));
            let search = UnitSearch {
                shop: Some(of),
                ..UnitSearch::default()
            };
            let units = read.search_units(&search, None, 100).await.unwrap();
            let ids: Vec<UnitId> = units.iter().map(|unit| unit.unit).collect();
            assert_eq!(*board, read.list_loop_figures_of(&ids).await.unwrap());
            if of == SHOP {
                last = board;
            }
        }
    }
    assert_ne!(last, first);
    assert_eq!(early.list_loop_figures(SHOP).await.unwrap(), first);
    let mut read = shop.store.read().await.unwrap();
    assert_eq!(read.list_loop_figures(SHOP).await.unwrap(), last);
    drop((read, early));

    shop.store.rebuild().await.unwrap();
    let mut read = shop.store.read().await.unwrap();
    assert_eq!(read.list_loop_figures(SHOP).await.unwrap(), last);
    drop(read);
    // Nothing is kept yet of this reader's file, so it must come to the same by itself.
    let mut beside = storage::Read::beside(shop.folder.path()).await.unwrap();
    assert_eq!(beside.list_loop_figures(SHOP).await.unwrap(), last);
}

#[tokio::test]
async fn the_board_says_which_loops_are_being_worked_out_again() {
    let shop = busy().await;
    let mut raw = raw(&shop.file()).await;
    run(
        &mut raw,
        "insert into stale_places select place from place_states where account = 'loop' limit 1",
    )
    .await;
    let mut read = shop.store.read().await.unwrap();
    let board = read.list_loop_figures(SHOP).await.unwrap();
    let stale = |row: &&LoopFigures| row.state.is_some_and(|state| state.being_worked_out_again);
    assert_eq!(board.iter().filter(stale).count(), 1);
}

/// Two more units, one in another shop; the last of the six is out of use.
async fn with_odd_names() -> Shop {
    let shop = Shop::fitted_out().await;
    let What::Unit(card) = unit_card(40) else {
        panic!("a unit is a unit")
    };
    let other = ShopId(Uuid::from_u128(0x52));
    for (n, number, kind, family, of) in [
        (41, "Ä 77", "Snowplow", Some("V8 large"), SHOP),
        (42, "P100%", "road sweeper", None, other),
    ] {
        let card = Unit {
            reason: None,
            id: unit(n),
            number: number.to_owned(),
            kind: kind.to_owned(),
            shop: of,
            engine_family: family.map(str::to_owned),
            loops: vec![domain::fleet::Loop {
                id: place(the_loop(n)),
                ..card.loops[0].clone()
            }],
        };
        shop.put(fact(BEGAN, What::Unit(card))).await.unwrap();
    }
    shop.put(fact(
        BEGAN,
        What::Retired(Retired {
            unit: Some(unit(5)),
            places: vec![],
            reason: None,
        }),
    ))
    .await
    .unwrap();
    shop
}

#[tokio::test]
async fn units_are_found_by_any_part_of_number_kind_or_engine_family_page_by_page() {
    let shop = with_odd_names().await;
    let mut read = shop.store.read().await.unwrap();
    for (of, text, with_retired, expected) in [
        (
            Some(SHOP),
            "",
            false,
            vec!["2100", "2101", "2102", "2103", "2104", "Ä 77"],
        ),
        (
            Some(SHOP),
            "210",
            true,
            vec!["2100", "2101", "2102", "2103", "2104", "2105"],
        ),
        (Some(SHOP), " SNOW ", false, vec!["Ä 77"]),
        (Some(SHOP), "ä 7", false, vec!["Ä 77"]),
        (Some(SHOP), "v8", false, vec!["Ä 77"]),
        (Some(SHOP), "sweeper", false, vec![]),
        (None, "sweeper", false, vec!["P100%"]),
        (None, "%", false, vec!["P100%"]),
        (None, "_", false, vec![]),
        // Not across two of them.
        (None, "2100 transit", false, vec![]),
    ] {
        let search = UnitSearch {
            shop: of,
            text: text.to_owned(),
            with_retired,
        };
        let mut found = Vec::new();
        let mut after = None;
        loop {
            let page = read.search_units(&search, after, 2).await.unwrap();
            let Some(last) = page.last() else { break };
            after = Some(AfterUnit {
                number: last.number.clone(),
                unit: last.unit,
            });
            found.extend(page);
        }
        let numbers: Vec<_> = found.iter().map(|unit| unit.number.as_str()).collect();
        assert_eq!(numbers, expected, "{text}");
        let count = read.count_units(&search).await.unwrap();
        assert_eq!(count, i64::try_from(expected.len()).unwrap());
        assert!(with_retired || found.iter().all(|unit| !unit.retired));
    }
}

#[tokio::test]
async fn a_line_of_history_tells_who_how_much_and_of_what_and_a_void_stays_in_it() {
    let shop = busy().await;
    let wrong = shop.key();
    let command = crate::shop::command(wrong, fact(BEGAN + 2 * HOUR, recover(0, "9 L")));
    shop.store.append(command).await.unwrap();
    shop.put(fact(BEGAN + 70 * HOUR, void(wrong)))
        .await
        .unwrap();
    let mut read = shop.store.read().await.unwrap();
    let history = read
        .list_place_history(place(the_loop(0)), None, 10)
        .await
        .unwrap();
    let kinds: Vec<_> = history
        .iter()
        .map(|row| (row.job_kind.as_deref().unwrap(), row.standing.as_str()))
        .collect();
    assert_eq!(
        kinds,
        [
            ("top_up", "posted"),
            ("recover", "voided"),
            ("fill", "posted"),
            ("recover", "posted")
        ]
    );
    let (top_up, voided, drawn) = (&history[0], &history[1], &history[3]);
    assert_eq!(voided.before(), voided.after());
    assert_eq!(voided.before(), history[2].after());
    assert_eq!((voided.in_ml, voided.out_ml), (0, 0));
    assert!(voided.voided_by.is_some());
    assert_eq!(drawn.person, Some(PERSON));
    assert_eq!(drawn.person_handle.as_deref(), Some("P3"));
    assert!((29_500..30_500).contains(&drawn.out_ml), "{drawn:?}");
    assert_eq!(drawn.in_ml, 0);
    assert_eq!(drawn.chemistry_after, Chemistry::One(Glycol::Eg));
    // What was used up is posted too, and was not moved by anybody.
    assert!((2_400..2_600).contains(&top_up.in_ml), "{top_up:?}");
    assert_eq!(top_up.out_ml, 0);
    assert!(top_up.moved.iter().any(|moved| moved.why == "used_up"));
    assert_eq!(top_up.top_up.as_deref(), Some("completion"));

    let jobs = read.list_jobs_of_unit(unit(0), None, 10).await.unwrap();
    assert_eq!(jobs.len(), 4);
    assert_eq!(jobs[1].standing, "voided");
    assert_eq!(jobs[3].moved_ml(), drawn.out_ml);
    assert_eq!(jobs[3].unit_number.as_deref(), Some("2100"));
    let change = jobs[3]
        .changes
        .iter()
        .find(|change| change.place == place(the_loop(0)))
        .unwrap();
    assert_eq!(change.after.0, drawn.after());
    let found = read.find_job(jobs[3].order.key).await.unwrap();
    assert_eq!(found.as_ref(), Some(&jobs[3]));

    let since = Moment(BEGAN + 31 * HOUR);
    let today = read.list_jobs_of_shop_since(SHOP, since, 10).await.unwrap();
    let kinds: Vec<_> = today.iter().map(|job| job.kind.as_str()).collect();
    assert_eq!(kinds, ["dip", "top_up", "fill", "recover"]);
    assert_eq!(read.count_jobs_of_shop_since(SHOP, since).await.unwrap(), 4);
}

/// The same balance, worked out from the outcomes of a replay.
async fn by_replay(shop: &Shop, id: PlaceId, from: Moment) -> PlaceBalance {
    let sum = |postings: &[Posting], is: &dyn Fn(&Posting) -> bool| -> i64 {
        let ml = postings.iter().filter(|posting| is(posting));
        ml.map(|posting| posting.shown_ml).sum()
    };
    shop.store
        .with_book(|book| {
            let (mut before, mut opened, mut facts) = (None, 0, 0);
            let mut postings = Vec::new();
            book.replay_until(None, &mut |worked| {
                if worked.outcome.standing != Standing::Posted {
                    return;
                }
                let changes = &worked.outcome.changes;
                let Some(change) = changes.iter().find(|change| change.place() == Some(id)) else {
                    return;
                };
                if worked.order.happened < from {
                    before = Some(change.after.shown_ml);
                    return;
                }
                facts += 1;
                for posting in &worked.outcome.postings {
                    if posting.why == Why::Opening && posting.to.place() == Some(id) {
                        opened += posting.shown_ml;
                    } else if posting.why != Why::Reading {
                        postings.push(posting.clone());
                    }
                }
            });
            let into = |posting: &Posting| posting.to.place() == Some(id);
            let out = |posting: &Posting| posting.from.place() == Some(id);
            let lost = |account: Account| {
                sum(&postings, &|it| out(it) && it.to == account)
                    - sum(&postings, &|it| into(it) && it.from == account)
            };
            let aside =
                |account: Account| matches!(account, Account::UsedUp | Account::NotAccountedFor);
            let opening_ml = before.unwrap_or(opened);
            let in_ml = sum(&postings, &|it| into(it) && !aside(it.from));
            let out_ml = sum(&postings, &|it| out(it) && !aside(it.to));
            let used_up_ml = lost(Account::UsedUp);
            let not_accounted_ml = lost(Account::NotAccountedFor);
            let closing_ml = book.place(id).unwrap().figures().shown_ml;
            PlaceBalance {
                opening_ml,
                in_ml,
                out_ml,
                used_up_ml,
                not_accounted_ml,
                mixing_ml: closing_ml - opening_ml - in_ml + out_ml + used_up_ml + not_accounted_ml,
                closing_ml,
                facts,
                agrees: true,
            }
        })
        .await
        .unwrap()
}

#[tokio::test]
async fn the_balance_of_a_place_closes_and_is_that_of_the_book_from_any_moment_on() {
    let shop = busy().await;
    let reading = Line::Reading(Reading::of(
        the_loop(1),
        Measured::Strength(read("51 %").unwrap()),
        Tool::Refractometer,
    ));
    shop.put(fact(
        BEGAN + 53 * HOUR,
        What::Job(job(JobKind::ConditionTest, 1, vec![reading])),
    ))
    .await
    .unwrap();
    shop.put(fact(BEGAN + 54 * HOUR, recover(1, "60 L")))
        .await
        .unwrap();
    let mut read = shop.store.read().await.unwrap();
    let mut seen_lost = 0;
    for account in [the_loop(0), the_loop(1), vessel(0)] {
        for hours in [-2_000, 0, 1, 20, 31, 52, 54, 55, 500] {
            let from = Moment(BEGAN + hours * HOUR);
            let found = read.balance_of_place(place(account), from).await.unwrap();
            let found = found.unwrap();
            let expected = by_replay(&shop, place(account), from).await;
            assert_eq!(found, expected, "{account:?} from {hours} h on");
            // Two waters and two glycols shrink by some mL; a sum that is off is off by litres.
            assert!(found.mixing_ml.abs() < 100, "{found:?}");
            seen_lost += found.not_accounted_ml.abs();
        }
    }
    assert!(seen_lost > 0);
    let nobody = PlaceId(Uuid::from_u128(3));
    assert_eq!(
        read.balance_of_place(nobody, Moment(0)).await.unwrap(),
        None
    );
}

/// 0 into 1 into 2; later 1 counts for 3, and with it 0. Two that stand for each other are one.
#[tokio::test]
async fn facts_tell_of_a_place_under_the_ids_given_up_for_it_too() {
    let shop = Shop::fitted_out().await;
    let of = |n: u128| place(vessel(n));
    let ids = async |n: u128| {
        let mut read = shop.store.read().await.unwrap();
        let mut ids = read.list_ids_of_place(of(n)).await.unwrap();
        ids.sort_unstable();
        ids
    };
    assert_eq!(ids(2).await, [of(2)]);
    let merges = [(0, 1), (1, 2), (1, 3), (3, 1)];
    let mut told = (0..).zip(merges).map(|(hour, (from, into))| {
        let (from, into) = (of(from), of(into));
        fact(BEGAN + hour * HOUR, What::Merged(Merged { from, into }))
    });
    for merged in told.by_ref().take(2) {
        shop.put(merged).await.unwrap();
    }
    assert_eq!(ids(2).await, [of(0), of(1), of(2)]);
    shop.put(told.next().unwrap()).await.unwrap();
    assert_eq!(ids(2).await, [of(2)]);
    assert_eq!(ids(3).await, [of(0), of(1), of(3)]);
    shop.put(told.next().unwrap()).await.unwrap();
    assert_eq!(ids(1).await, [of(0), of(1), of(3)]);
}

#[tokio::test]
async fn open_questions_come_page_by_page_by_shop_by_place_and_by_fact() {
    let shop = Shop::fitted_out().await;
    for n in 0..5 {
        // More than the loop can hold.
        shop.put(fact(BEGAN + n * HOUR, recover(0, "90 L")))
            .await
            .unwrap();
    }
    let mut read = shop.store.read().await.unwrap();
    let all = read.list_open_questions(Some(SHOP), 100).await.unwrap();
    assert!(all.len() >= 5);
    assert_eq!(all, read.list_open_questions(None, 100).await.unwrap());
    let count = read.count_open_questions(Some(SHOP)).await.unwrap();
    assert_eq!(count, i64::try_from(all.len()).unwrap());
    assert_eq!(read.count_open_questions(None).await.unwrap(), count);
    let elsewhere = Some(ShopId(Uuid::from_u128(1)));
    assert_eq!(read.count_open_questions(elsewhere).await.unwrap(), 0);
    for of in [Some(SHOP), None] {
        let mut seen = Vec::new();
        let mut before = None;
        loop {
            let page = read
                .list_open_questions_before(of, before, 2)
                .await
                .unwrap();
            let Some(last) = page.last() else { break };
            before = Some(last.at);
            seen.extend(page);
        }
        assert_eq!(seen, all);
    }
    let of_loop = read
        .list_open_questions_of_place(place(the_loop(0)), 100)
        .await
        .unwrap();
    let expected: Vec<_> = all
        .iter()
        .filter(|asked| asked.place == Some(place(the_loop(0))))
        .cloned()
        .collect();
    assert!(!expected.is_empty());
    assert_eq!(of_loop, expected);
    let asked = read.list_questions_of_fact(all[0].id.job).await.unwrap();
    assert!(asked.iter().all(|asked| asked.id.job == all[0].id.job));
    assert!(asked.contains(&all[0]));
    let nobody = FactKey(Uuid::from_u128(7));
    assert_eq!(read.list_questions_of_fact(nobody).await.unwrap(), []);
    let other = all.iter().find(|other| other.id.job != all[0].id.job);
    let other = other.unwrap().id.job;
    let of_both = [other, nobody, all[0].id.job];
    let of_both = read.list_questions_of_facts(&of_both).await.unwrap();
    let mut wanted = read.list_questions_of_fact(other).await.unwrap();
    wanted.extend(asked);
    assert_eq!(of_both, wanted);
    drop(read);

    shop.put(fact(BEGAN + 9 * HOUR, void(all[0].id.job)))
        .await
        .unwrap();
    let mut read = shop.store.read().await.unwrap();
    let left = read.list_open_questions(Some(SHOP), 100).await.unwrap();
    assert!(left.len() < all.len());
    assert_eq!(
        read.count_open_questions(Some(SHOP)).await.unwrap(),
        i64::try_from(left.len()).unwrap()
    );
}

#[tokio::test]
async fn facts_come_in_the_order_they_are_asked_for() {
    let shop = busy().await;
    let mut read = shop.store.read().await.unwrap();
    let facts = read.list_facts_at(&[5, 2, 999, 9]).await.unwrap();
    let seqs: Vec<_> = facts.iter().map(|row| row.seq).collect();
    assert_eq!(seqs, [5, 2, 9]);
}

#[tokio::test]
async fn a_dip_sets_the_cart_and_its_spread_is_known() {
    let shop = busy().await;
    let mut read = shop.store.read().await.unwrap();
    let cart = read.find_place(place(vessel(0))).await.unwrap().unwrap();
    assert_eq!(cart.last_dip_at, Some(Moment(BEGAN + 52 * HOUR)));
    let known = cart.known(Moment(BEGAN + 1_000 * DAY_MS)).unwrap();
    // A vessel does not drift.
    assert_eq!(known.figures.sigma_millionths, cart.sigma_millionths);
    assert_eq!(known.figures.knowledge, Knowledge::Entered);
}
