//! Jobs shared out to threads, whose outcomes come back in the order of the jobs, never more than a few ahead.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;

/// What a worker does with job k: it hands over outcomes one by one, and ends early when one is not wanted any more.
pub(crate) type Work<T> = Box<dyn FnMut(usize, &mut dyn FnMut(T) -> bool) + Send>;

/// Threads at work. Job k is done by thread k mod n. Dropped, they end after the outcome that they are at.
pub(crate) struct InOrder<T> {
    threads: Vec<Thread<T>>,
    job: usize,
    n_jobs: usize,
}

struct Thread<T> {
    outcomes: Option<Receiver<Message<T>>>,
    handle: Option<JoinHandle<()>>,
}

enum Message<T> {
    Outcome(T),
    JobDone,
}

impl<T: Send + 'static> InOrder<T> {
    /// Begins; each thread may have `most_waiting` outcomes that nobody has fetched.
    pub(crate) fn new(workers: Vec<Work<T>>, n_jobs: usize, most_waiting: usize) -> Self {
        let step = workers.len();
        let threads = workers
            .into_iter()
            .enumerate()
            .map(|(first, work)| {
                let (sender, outcomes) = sync_channel(most_waiting);
                let jobs = (first..n_jobs).step_by(step);
                let handle = std::thread::spawn(move || run(jobs, work, &sender));
                Thread { outcomes: Some(outcomes), handle: Some(handle) }
            })
            .collect();
        Self { threads, job: 0, n_jobs }
    }

    /// The next outcome in the order of jobs; `None` after the last one.
    pub(crate) fn next(&mut self) -> Option<T> {
        while self.job < self.n_jobs {
            let thread = self.job % self.threads.len();
            match self.threads[thread].outcomes.as_ref()?.recv() {
                Ok(Message::Outcome(outcome)) => return Some(outcome),
                Ok(Message::JobDone) => self.job += 1,
                // The thread panicked; its panic goes on here, not in silence.
                Err(_) => {
                    let joined = self.threads[thread].handle.take()?.join();
                    joined.unwrap_or_else(|fault| std::panic::resume_unwind(fault));
                    return None;
                }
            }
        }
        None
    }
}

impl<T> Drop for InOrder<T> {
    fn drop(&mut self) {
        // All channels first: a thread that waits for room then ends.
        self.threads.iter_mut().for_each(|thread| thread.outcomes = None);
        for handle in self.threads.iter_mut().filter_map(|thread| thread.handle.take()) {
            // Nobody wants its outcomes any more.
            let _ = handle.join();
        }
    }
}

fn run<T>(jobs: impl Iterator<Item = usize>, mut work: Work<T>, sender: &SyncSender<Message<T>>) {
    for job in jobs {
        let mut is_wanted = true;
        work(job, &mut |outcome| {
            is_wanted = sender.send(Message::Outcome(outcome)).is_ok();
            is_wanted
        });
        if !is_wanted || sender.send(Message::JobDone).is_err() {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outcomes_keep_the_order_of_jobs_and_threads_end_when_dropped() {
        let work = || -> Work<usize> {
            Box::new(|job, put| {
                let _ = (0..job % 4).all(|k| put(10 * job + k));
            })
        };
        let mut all = InOrder::new((0..3).map(|_| work()).collect(), 20, 1);
        let got: Vec<usize> = std::iter::from_fn(|| all.next()).collect();
        let expected: Vec<usize> = (0..20).flat_map(|job| (0..job % 4).map(move |k| 10 * job + k)).collect();
        assert_eq!(got, expected);
        let mut dropped = InOrder::new((0..3).map(|_| work()).collect(), 1000, 1);
        assert_eq!(dropped.next(), Some(10));
    }
}
