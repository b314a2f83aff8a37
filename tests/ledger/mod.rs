mod trust_file;
