//! What others send, and what stands in the way: nothing gets in, nothing is lost. Each case with the words that must come.
mod blocks;
mod headers;
mod in_the_way;
mod leaving;
mod outputs;
mod piped;
mod quoted;
mod saved_anew;
mod without_end;
