mod sign_in;
