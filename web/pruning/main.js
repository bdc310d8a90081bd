// The pruning plan of one block begins here.
