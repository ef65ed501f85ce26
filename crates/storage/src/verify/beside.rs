//! What lies beside the record: texts and stored answers.

use super::report::{Class, Report};
use crate::answer;
use crate::error::StorageError;
use crate::record::json;
use crate::view::Entry;
use crate::words;
use crate::writer::Via;
use domain::fact::{Fact, TextRemoved};
use domain::words::Text;
use sqlx::SqliteConnection;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use uuid::Uuid;

/// What was seen on the way and can only be judged at the end: a text may be removed later.
#[derive(Debug, Default)]
pub(super) struct Beside {
    seen: BTreeMap<Uuid, i64>,
    missing: BTreeMap<(Uuid, String), i64>,
    without_fingerprint: BTreeMap<Uuid, i64>,
    /// With the last fact that removed it.
    removed: BTreeMap<(Uuid, String), i64>,
}

struct WordRow {
    digest: String,
    salt: Vec<u8>,
    text: String,
    fact: Uuid,
}

struct AnswerRow {
    seq: i64,
    salt: Vec<u8>,
    fingerprint: Option<Vec<u8>>,
    status: i64,
    body: Vec<u8>,
    digest: Vec<u8>,
    via: String,
}

impl Beside {
    /// A text that fact `seq` removed.
    pub(super) fn removed(&mut self, seq: i64, removed: &TextRemoved) {
        self.removed
            .entry((removed.fact.0, removed.digest.clone()))
            .and_modify(|first| *first = seq.max(*first))
            .or_insert(seq);
    }

    /// Checks the texts and answers of some facts.
    pub(super) async fn page(
        &mut self,
        live: &mut SqliteConnection,
        entries: &[Entry],
        report: &mut Report,
    ) -> Result<(), StorageError> {
        let keys: Vec<Uuid> = entries.iter().map(|entry| entry.recorded.key.0).collect();
        self.seen.extend(
            entries
                .iter()
                .map(|entry| (entry.recorded.key.0, entry.seq)),
        );
        let keys = json(&keys)?;
        let mut words_of = texts(live, &keys).await?;
        let mut answer_to = answers(live, entries).await?;
        for entry in entries {
            let key = entry.recorded.key.0;
            let words = words_of.remove(&key).unwrap_or_default();
            let mut fact = entry.recorded.fact.clone();
            self.check_texts(entry.seq, &mut fact, (key, &words), report);
            match answer_to.remove(&entry.seq) {
                Some(answer) => {
                    self.check_answer((entry.seq, key), fact, (&words, &answer), report);
                }
                None => report.add(
                    Class::Beside,
                    Some(entry.seq),
                    "it has no stored answer".to_owned(),
                ),
            }
        }
        Ok(())
    }

    fn check_texts(
        &mut self,
        seq: i64,
        fact: &mut Fact,
        (key, words): (Uuid, &[WordRow]),
        report: &mut Report,
    ) {
        let named = match words::digests(fact) {
            Ok(named) => named,
            Err(error) => return report.add(Class::Beside, Some(seq), error.to_string()),
        };
        for word in words {
            if words::digest(&word.salt, &word.text) != word.digest {
                report.add(
                    Class::Beside,
                    Some(seq),
                    "a text differs from its digest".to_owned(),
                );
            }
            if !named.contains(&word.digest) {
                report.add(
                    Class::Beside,
                    Some(seq),
                    "a text it does not name".to_owned(),
                );
            }
        }
        for digest in named {
            if !words.iter().any(|word| word.digest == digest) {
                self.missing.insert((key, digest), seq);
            }
        }
    }

    fn check_answer(
        &mut self,
        (seq, key): (i64, Uuid),
        mut fact: Fact,
        (words, answer): (&[WordRow], &AnswerRow),
        report: &mut Report,
    ) {
        let digest = answer::row_digest(
            answer.seq,
            &answer.salt,
            answer.fingerprint.as_deref(),
            (answer.status, &answer.body),
        );
        if answer.digest != digest {
            report.add(
                Class::Beside,
                Some(seq),
                "the stored answer differs from its digest".to_owned(),
            );
        }
        let Some(fingerprint) = &answer.fingerprint else {
            self.without_fingerprint.insert(key, seq);
            return;
        };
        if [Via::Intake, Via::Form]
            .iter()
            .any(|via| answer.via == via.code())
        {
            // Made over what was sent, which is not kept; the digest above covers it.
            return;
        }
        fact.for_each_text(&mut |text| {
            let word = words
                .iter()
                .find(|word| Some(word.digest.as_str()) == text.digest());
            if let Some(word) = word {
                *text = Text::Plain(word.text.clone());
            }
        });
        let worked_out = answer::fingerprint(&answer.salt, &fact);
        if worked_out.ok().as_ref().map(<[u8; 32]>::as_slice) != Some(fingerprint.as_slice()) {
            report.add(
                Class::Beside,
                Some(seq),
                "the stored answer's fingerprint is not the fact's".to_owned(),
            );
        }
    }

    /// Judges what had to wait, and looks for rows that belong to no fact.
    pub(super) async fn finish(
        &self,
        live: &mut SqliteConnection,
        report: &mut Report,
    ) -> Result<(), StorageError> {
        // Of a fact that was not on record yet nothing was removed.
        let removed: BTreeSet<&(Uuid, String)> = self
            .removed
            .iter()
            .filter(|((fact, _), seq)| self.seen.get(fact).is_some_and(|earlier| earlier < *seq))
            .map(|(removed, _)| removed)
            .collect();
        for (missing, seq) in &self.missing {
            if !removed.contains(missing) {
                report.add(
                    Class::Beside,
                    Some(*seq),
                    "a text is missing and was not removed".to_owned(),
                );
            }
        }
        let cleared: BTreeSet<Uuid> = removed.iter().map(|(fact, _)| *fact).collect();
        for (key, seq) in &self.without_fingerprint {
            if !cleared.contains(key) {
                report.add(
                    Class::Beside,
                    Some(*seq),
                    "the stored answer lost its fingerprint".to_owned(),
                );
            }
        }
        for fact in &cleared {
            if !self.without_fingerprint.contains_key(fact) {
                report.add(
                    Class::Beside,
                    None,
                    format!("fact {fact} had a text removed and kept its fingerprint"),
                );
            }
        }
        for (fact, digest) in removed {
            let left = sqlx::query_scalar!(
                "select count(*) from words where digest = ?1 and fact = ?2",
                digest,
                fact
            )
            .fetch_one(&mut *live)
            .await?;
            if left > 0 {
                report.add(
                    Class::Beside,
                    None,
                    format!("a text of fact {fact} was removed and is still there"),
                );
            }
        }
        let orphans = sqlx::query_scalar!(
            r#"select (select count(*) from words where fact not in (select key from record))
                    + (select count(*) from stored_answers
                       where seq not in (select seq from record)) as "orphans!: i64" -- belong to no fact"#
        )
        .fetch_one(live)
        .await?;
        if orphans > 0 {
            report.add(
                Class::Beside,
                None,
                format!("{orphans} texts or answers belong to no fact"),
            );
        }
        Ok(())
    }
}

async fn texts(
    live: &mut SqliteConnection,
    keys: &str,
) -> Result<HashMap<Uuid, Vec<WordRow>>, StorageError> {
    let rows = sqlx::query_as!(
        WordRow,
        r#"select digest, salt, text, fact as "fact: Uuid" from words
           where fact in (select unhex(value, '-') from json_each(?1))"#,
        keys
    )
    .fetch_all(live)
    .await?;
    let mut texts: HashMap<Uuid, Vec<WordRow>> = HashMap::new();
    for row in rows {
        texts.entry(row.fact).or_default().push(row);
    }
    Ok(texts)
}

async fn answers(
    live: &mut SqliteConnection,
    entries: &[Entry],
) -> Result<HashMap<i64, AnswerRow>, StorageError> {
    let first = entries.first().map_or(0, |entry| entry.seq);
    let last = entries.last().map_or(0, |entry| entry.seq);
    let rows = sqlx::query_as!(
        AnswerRow,
        r#"select answer.seq, answer.salt, answer.fingerprint, answer.status, answer.body,
                  answer.digest, record.via as "via!"
           from stored_answers as answer cross join record on record.seq = answer.seq
           where answer.seq between ?1 and ?2"#,
        first,
        last
    )
    .fetch_all(live)
    .await?;
    Ok(rows.into_iter().map(|row| (row.seq, row)).collect())
}
