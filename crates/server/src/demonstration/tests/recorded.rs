//! The demonstration in a record: made once, finished when it was cut off, never over another.

use std::path::Path;

use domain::fact::What;
use storage::{Command, Head, Via};

use super::super::record::{Made, Supply, put, put_into};
use super::super::{SEED, facts};
use crate::week::open;

async fn head_of(data: &Path) -> Head {
    open::for_reading(data).await.unwrap().head().await.unwrap()
}

#[tokio::test]
async fn it_is_made_once_and_always_the_same() {
    let (one, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let all = facts(SEED).unwrap().len();
    let made = put(one.path()).await.unwrap();
    assert_eq!(
        made,
        Made {
            found: 0,
            written: all
        }
    );
    let head = head_of(one.path()).await;
    let report = storage::verify(one.path()).await.unwrap();
    assert!(report.is_good(), "{report:?}");
    let again = put(one.path()).await.unwrap();
    assert_eq!(
        again,
        Made {
            found: all,
            written: 0
        }
    );
    assert_eq!(head_of(one.path()).await, head);
    put(other.path()).await.unwrap();
    assert_eq!(head_of(other.path()).await, head);
}

#[tokio::test]
async fn what_was_cut_off_is_finished_and_comes_to_the_same() {
    let (whole, cut) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    put(whole.path()).await.unwrap();
    let supply = Supply::default();
    let store = open::with_options(supply.options(cut.path()))
        .await
        .unwrap();
    let mut some = facts(SEED).unwrap();
    some.truncate(777);
    put_into(&store, &supply, some).await.unwrap();
    store.close().await.unwrap();
    let made = put(cut.path()).await.unwrap();
    assert_eq!(made.found, 777);
    assert_eq!(head_of(cut.path()).await, head_of(whole.path()).await);
}

#[tokio::test]
async fn another_record_is_left_alone() {
    let data = tempfile::tempdir().unwrap();
    let store = open::for_writing(data.path()).await.unwrap();
    let fact = facts(SEED + 1).unwrap().remove(0);
    let command = Command::plain(fact.key, fact.fact, Via::Import);
    store.append(command).await.unwrap();
    store.close().await.unwrap();
    let head = head_of(data.path()).await;
    let refused = put(data.path()).await.unwrap_err();
    assert_eq!(refused.number(), 2);
    assert!(refused.to_string().contains("not this demonstration"));
    assert_eq!(head_of(data.path()).await, head);
}

#[tokio::test]
async fn facts_keep_their_arrival_and_statements_name_the_head_they_knew() {
    let data = tempfile::tempdir().unwrap();
    put(data.path()).await.unwrap();
    let mut read = open::for_reading(data.path()).await.unwrap();
    let mut seq = 0;
    for fact in facts(SEED).unwrap() {
        seq += 1;
        let row = read.find_fact_at(seq).await.unwrap().unwrap();
        assert_eq!((row.key, row.at), (fact.key.0, fact.received_at.0));
        if let What::MonthClosed(closed) = row.fact().unwrap().what {
            let statement = closed.statement;
            assert_eq!(statement.head_seq, seq - 1);
            let known = read.find_fact_at(seq - 1).await.unwrap().unwrap();
            let hash = Head {
                seq: known.seq,
                hash: known.hash.as_slice().try_into().unwrap(),
            };
            assert_eq!(statement.head_hash, hash.hash_hex());
        }
    }
}
