//! Records over years against known truth, from a generator that shares no code with the project's simulator.
mod made;
mod told;
mod validity;
