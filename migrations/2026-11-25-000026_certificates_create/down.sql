DROP FUNCTION certificates_shown(text);
DROP TABLE certificates_counter;
DROP TABLE certificates_result;
DROP TABLE certificates_document;
DROP TABLE certificates_certificate;
