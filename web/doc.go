// Package web shows the casebook to people: pages over one casebook.Book, rendered on the server.
//
// Every page works without script. A small script sends the look-up form again when something in it changes, and puts the new answer in its
// place. Pages hold no domain logic: what they show comes from casebook as one value, and each page has a struct whose template is checked
// against it by a test.
package web
