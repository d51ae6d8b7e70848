//! How a command ended, as the exit code says it.

/// Exit codes of the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// 0: done.
    Done,
    /// 1: done, but a check failed or something needs a person.
    NeedsPerson,
    /// 2: could not run.
    CouldNotRun,
}

impl Exit {
    /// The code handed to the system.
    #[must_use]
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::NeedsPerson => 1,
            Self::CouldNotRun => 2,
        }
    }

    /// [`Exit::NeedsPerson`] when `needs_person`, else [`Exit::Done`].
    #[must_use]
    pub fn person_if(needs_person: bool) -> Self {
        if needs_person { Self::NeedsPerson } else { Self::Done }
    }
}
