//! Whether the server can take work, asked in the background so that a flood of probes costs nothing.

use std::{fmt::Display, future::Future, time::Duration};

use tokio::{
    sync::watch,
    time::{Instant, sleep, timeout},
};

/// One question may take this long before it counts as "not ready".
const ANSWER_WITHIN: Duration = Duration::from_secs(1);
/// The pause between two questions.
const ASK_EVERY: Duration = Duration::from_secs(1);
/// An answer older than this is no answer: whatever asks has stopped.
const GOOD_FOR: Duration = Duration::from_secs(10);

/// The last answer to "can you take work?", shared by all requests.
#[derive(Clone, Debug)]
pub struct Readiness(watch::Receiver<Seen>);

#[derive(Debug)]
struct Seen {
    at: Instant,
    reason: Option<String>,
}

impl Readiness {
    /// Asks `check` again and again in the background, until the last copy of the result is dropped.
    ///
    /// The first answer is in when this returns.
    pub async fn follow<F, Answer, Reason>(check: F) -> Self
    where
        F: Fn() -> Answer + Send + 'static,
        Answer: Future<Output = Result<(), Reason>> + Send,
        Reason: Display,
    {
        let (sender, receiver) = watch::channel(ask(check()).await);
        tokio::spawn(async move {
            loop {
                tokio::select! {
                    () = sender.closed() => return,
                    () = sleep(ASK_EVERY) => {}
                }
                let seen = ask(check()).await;
                sender.send_replace(seen);
            }
        });
        Self(receiver)
    }

    /// Why no work can be taken; nothing when all is well.
    pub fn reason_against(&self) -> Option<String> {
        let seen = self.0.borrow();
        if seen.at.elapsed() > GOOD_FOR {
            return Some("the check itself has stopped; restart the server".to_owned());
        }
        seen.reason.clone()
    }
}

async fn ask<Reason: Display>(answer: impl Future<Output = Result<(), Reason>>) -> Seen {
    let reason = match timeout(ANSWER_WITHIN, answer).await {
        Ok(Ok(())) => None,
        Ok(Err(reason)) => Some(reason.to_string()),
        Err(_) => Some(format!("no answer within {} s", ANSWER_WITHIN.as_secs())),
    };
    Seen {
        at: Instant::now(),
        reason,
    }
}

#[cfg(test)]
mod tests {
    use std::future::pending;

    use super::Readiness;

    #[tokio::test]
    async fn a_check_that_never_answers_means_not_ready() {
        let readiness = Readiness::follow(pending::<Result<(), String>>).await;
        assert_eq!(
            readiness.reason_against().as_deref(),
            Some("no answer within 1 s")
        );
    }

    #[tokio::test]
    async fn a_reason_is_kept_as_it_was_given() {
        let readiness = Readiness::follow(async || Err("the disk is full")).await;
        assert_eq!(
            readiness.reason_against().as_deref(),
            Some("the disk is full")
        );
    }
}
