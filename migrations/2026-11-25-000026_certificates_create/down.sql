DROP TABLE certificates_counter;
DROP TABLE certificates_result;
DROP TABLE certificates_certificate;
