//! (role follows)
