//! Questions as a page shows them.

use std::collections::{BTreeSet, HashMap};

use domain::book::question::QuestionKind;
use domain::fact::{Fact, Proved, What};
use domain::fleet::Role;
use domain::ids::{FactKey, PersonId};
use domain::moment::Moment;
use storage::{OpenQuestion, Read, Row, SaidOf};

use super::says;
use crate::desk::Desk;
use crate::job::{Told, can_be_corrected, sentence_case};
use crate::record::{Names, Wanted};
use crate::{WebError, figure};

/// Who may answer.
pub(super) const ANSWER: &[Role] = &[Role::LeadHand, Role::Manager, Role::ComplianceOfficer];

/// One question with both its sides.
#[derive(Clone, Debug)]
pub(crate) struct Asked {
    /// Keeps the ids of two questions on one page apart.
    pub(crate) n: usize,
    pub(crate) job: String,
    pub(crate) line: u16,
    pub(crate) kind: &'static str,
    pub(crate) sentence: String,
    pub(crate) entered: String,
    pub(crate) says: String,
    /// Who answered it, when and how.
    pub(crate) answered: Option<String>,
    /// The line moves nothing until it is answered, so it can be rejected.
    pub(crate) waits: bool,
    /// What accepting and rejecting it do.
    pub(crate) what_answers_do: &'static str,
    pub(crate) may_answer: bool,
    /// Where else it can be settled: address and label.
    pub(crate) ways: Vec<(String, String)>,
    /// What was typed, and what is wrong with it.
    pub(crate) reason: String,
    pub(crate) problem: String,
    /// What was said about it so far, in order.
    pub(crate) said: Vec<String>,
    /// Who was asked last and has not said anything since.
    pub(crate) is_with: Option<String>,
    /// Whoever did the job and can be asked.
    pub(crate) doer: Option<String>,
    /// What was typed to ask them, and what is wrong with it.
    pub(crate) ask: String,
    pub(crate) ask_problem: String,
    /// It is about the name of whoever looks at it.
    pub(crate) own_name: bool,
    /// "Top up of 4204, 2026-10-05 07:40, by P3", with the page of the fact.
    pub(crate) about: (String, String),
}

fn what_answers_do(kind: QuestionKind) -> &'static str {
    match (kind.waits(), kind.counts_if_accepted()) {
        (true, true) => {
            "Accepted, the reading counts. Rejected, it is kept and moves nothing; rejecting needs a reason."
        }
        (true, false) => {
            "Accepted or rejected, the reading is kept and moves nothing, as it tells no strength here; rejecting needs a reason."
        }
        (false, _) => "Accepted, it stands as it was entered.",
    }
}

/// All questions of a job, the answered ones too.
pub(crate) async fn of_job(
    desk: &Desk,
    read: &mut Read,
    told: &Told,
) -> Result<Vec<Asked>, WebError> {
    let questions = read
        .list_questions_of_fact(told.key)
        .await
        .map_err(WebError::fault)?;
    let may_answer = may_answer(desk, read, told.job.shop).await?;
    let mut asked = draw(desk, read, questions).await?;
    for question in &mut asked {
        question.may_answer = may_answer;
        // The page of the job offers these itself.
        question.ways.clear();
    }
    Ok(asked)
}

/// Whether this person answers questions of a shop, by the roles that count for them there.
pub(super) async fn may_answer(
    desk: &Desk,
    read: &mut Read,
    shop: domain::ids::ShopId,
) -> Result<bool, WebError> {
    let roles = desk.roles_in(read, shop).await?;
    Ok(desk.sees(shop) && roles.iter().any(|role| ANSWER.contains(role)))
}

/// Whether nobody proved the name of whoever asks, who has now: they can say that it was them.
pub(super) fn is_own_name(desk: &Desk, question: &OpenQuestion) -> bool {
    question.id.kind == QuestionKind::NameToConfirm
        && question.person == Some(desk.person.id)
        && desk.session.proved != Proved::Unconfirmed
}

/// Puts questions into words. Who may answer is for the caller to say.
pub(super) async fn draw(
    desk: &Desk,
    read: &mut Read,
    questions: Vec<OpenQuestion>,
) -> Result<Vec<Asked>, WebError> {
    let facts = facts_behind(read, &questions).await?;
    let answers = answers(read, &questions).await?;
    let jobs: BTreeSet<FactKey> = questions.iter().map(|question| question.id.job).collect();
    let jobs: Vec<FactKey> = jobs.into_iter().collect();
    let said = read.list_said(&jobs).await.map_err(WebError::fault)?;
    let mut wanted = Wanted::default();
    for said in &said {
        wanted.people.extend(said.person);
        wanted.people.extend(said.asked);
        wanted.texts.extend(said.words.clone());
    }
    for question in &questions {
        wanted.people.extend(question.person);
        wanted.places.extend(question.place);
    }
    for (_, fact) in facts.values() {
        want(&mut wanted, fact);
    }
    for answer in answers.values() {
        wanted.people.extend(answer.by);
        wanted.texts.extend(answer.reason.clone());
    }
    let names = Names::of(read, wanted).await?;
    let mut asked = Vec::new();
    for (n, question) in questions.iter().enumerate() {
        let Some((received_at, fact)) = facts.get(&question.seq) else {
            continue;
        };
        let answer = question.answer.as_ref();
        let said: Vec<_> = said
            .iter()
            .filter(|said| said.question == question.id)
            .collect();
        let is_with = said.last().and_then(|last| last.asked);
        asked.push(Asked {
            n,
            job: question.id.job.to_string(),
            line: question.id.line,
            kind: question.id.kind.code(),
            sentence: says::sentence(desk.units(), question),
            entered: says::entered(desk, &names, fact, question),
            says: says::record(desk, &names, *received_at, question),
            answered: answer
                .and_then(|(key, decision)| answers.get(key)?.sentence(desk, &names, decision)),
            waits: question.id.kind.waits(),
            what_answers_do: what_answers_do(question.id.kind),
            may_answer: false,
            ways: ways(question, fact),
            reason: String::new(),
            problem: String::new(),
            said: said
                .iter()
                .map(|said| in_words(desk, &names, said))
                .collect(),
            is_with: is_with.map(|person| names.handle(Some(person))),
            doer: question
                .person
                .filter(|person| *person != desk.person.id)
                .map(|person| names.handle(Some(person))),
            ask: String::new(),
            ask_problem: String::new(),
            own_name: false,
            about: about(desk, &names, question, fact),
        });
    }
    Ok(asked)
}

/// "L1 asked P3, 2026-10-05 08:12: Was it 25 or 2.5 L?"
fn in_words(desk: &Desk, names: &Names, said: &SaidOf) -> String {
    let at = figure::time(said.at, desk.zone());
    let who = names.handle(said.person);
    let words = said.words.as_deref();
    let words = words.and_then(|digest| names.find_text(digest));
    let words = words.unwrap_or("words removed");
    match said.asked {
        None => format!("{who}, {at}: {words}"),
        Some(asked) => format!("{who} asked {}, {at}: {words}", names.handle(Some(asked))),
    }
}

async fn facts_behind(
    read: &mut Read,
    questions: &[OpenQuestion],
) -> Result<HashMap<i64, (Moment, Fact)>, WebError> {
    let mut seqs: Vec<i64> = questions.iter().map(|question| question.seq).collect();
    seqs.dedup();
    let rows = read.list_facts_at(&seqs).await.map_err(WebError::fault)?;
    rows.iter()
        .map(|row| {
            Ok((
                row.seq,
                (Moment(row.at), row.fact().map_err(WebError::fault)?),
            ))
        })
        .collect()
}

/// An answer on record.
struct Given {
    by: Option<PersonId>,
    at: Moment,
    /// Digest.
    reason: Option<String>,
}

impl Given {
    fn sentence(&self, desk: &Desk, names: &Names, decision: &str) -> Option<String> {
        let verb = match decision {
            "accept" => "Accepted",
            "reject" => "Rejected",
            _ => return None,
        };
        let at = figure::time(self.at, desk.zone());
        let said = format!("{verb} by {}, {at}", names.person(self.by));
        Some(match &self.reason {
            None => format!("{said}."),
            Some(digest) => format!(
                "{said}: {}",
                names.find_text(digest).unwrap_or("reason removed")
            ),
        })
    }
}

async fn answers(
    read: &mut Read,
    questions: &[OpenQuestion],
) -> Result<HashMap<FactKey, Given>, WebError> {
    let mut all = HashMap::new();
    for (key, _) in questions
        .iter()
        .filter_map(|question| question.answer.as_ref())
    {
        let row: Option<Row> = read.find_fact(*key).await.map_err(WebError::fault)?;
        let Some(row) = row else { continue };
        let fact = row.fact().map_err(WebError::fault)?;
        if let What::Answer(answer) = fact.what {
            let reason = answer
                .reason
                .and_then(|reason| reason.digest().map(str::to_owned));
            let given = Given {
                by: fact.by.person.or(row.person.map(PersonId)),
                at: Moment(row.at),
                reason,
            };
            all.insert(*key, given);
        }
    }
    Ok(all)
}

fn want(wanted: &mut Wanted, fact: &Fact) {
    match &fact.what {
        What::Job(job) => {
            job.lines.iter().for_each(|line| wanted.line(line));
        }
        What::Opening(opening) => wanted.place(opening.place),
        _ => {}
    }
}

fn about(desk: &Desk, names: &Names, question: &OpenQuestion, fact: &Fact) -> (String, String) {
    let at = figure::time(question.order.happened, desk.zone());
    let who = names.handle(question.person.or(fact.by.person));
    match &fact.what {
        What::Job(job) => {
            let typed = job.typed.as_ref().and_then(|typed| typed.unit.clone());
            let unit = question.unit_number.clone().or(typed);
            let place = || question.place.map(|place| names.place(place));
            let subject = unit.or_else(place).unwrap_or_default();
            let kind = sentence_case(job.kind.word());
            (
                format!("{kind} {subject}, {at}, by {who}"),
                format!("/jobs/{}", question.id.job),
            )
        }
        other => {
            let place = question
                .place
                .map_or_else(String::new, |place| names.place(place));
            let kind = sentence_case(crate::record::kind_word(other.kind()));
            (
                format!("{kind} {place}, {at}, by {who}"),
                format!("/records/{}", question.seq),
            )
        }
    }
}

fn ways(question: &OpenQuestion, fact: &Fact) -> Vec<(String, String)> {
    let What::Job(job) = &fact.what else {
        return Vec::new();
    };
    let at = |way: &str| format!("/jobs/{}/{way}", question.id.job);
    let mut ways = Vec::new();
    if can_be_corrected(job) {
        ways.push((at("correct"), "Correct the job".to_owned()));
    }
    ways.push((at("void"), "Void the job".to_owned()));
    ways
}
