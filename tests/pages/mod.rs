mod reviewer;
mod sign_in;
