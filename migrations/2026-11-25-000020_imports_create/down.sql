DROP TABLE imports_row;
DROP TABLE imports_import;
DROP TABLE imports_upload;
