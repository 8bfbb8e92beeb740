cmake_minimum_required(VERSION 3.25)

# Checks one room: it includes only the rooms that its target links, a pure room has no I/O, clock,
# locale or randomness, and an exact room nothing else that could make two replicas differ.
# Called by ctest with -DROOM, -DMAY_USE, -DKIND, -DDIR.
file(GLOB_RECURSE files ${DIR}/*.h ${DIR}/*.cc)
set(faults "")

set(impure "random_device|rand|system_clock|steady_clock|time_t|localtime|getenv|ifstream|ofstream|fopen|RAND_bytes|thread|mutex")
# What the C library answers differently in another locale. Bytes are compared as bytes instead.
string(APPEND impure "|setlocale|locale|tolower|toupper|isalpha|isalnum|isdigit|isspace|isupper|islower|ispunct|strcoll|strftime")
set(inexact "double|float|unordered_map|unordered_set")
set(banned "")
if(KIND STREQUAL "pure")
  set(banned "(^|[^a-z_])(${impure})([^a-z_]|$)")
elseif(KIND STREQUAL "exact")
  set(banned "(^|[^a-z_])(${impure}|${inexact})([^a-z_]|$)")
endif()

foreach(file IN LISTS files)
  file(STRINGS ${file} includes REGEX "^#include \"(client|server|cli|tests)/")
  foreach(line IN LISTS includes)
    string(REGEX MATCH "\"(client|server|cli|tests)/([a-z_]+)/" _ "${line}")
    if(NOT CMAKE_MATCH_1 STREQUAL "client" OR NOT CMAKE_MATCH_2 IN_LIST MAY_USE)
      string(APPEND faults "${file}: ${line}\n  room '${ROOM}' may use: ${MAY_USE}\n")
    endif()
  endforeach()

  if(banned)
    file(STRINGS ${file} lines REGEX "${banned}")
    foreach(line IN LISTS lines)
      string(REGEX REPLACE "//.*$" "" code "${line}")
      string(REGEX REPLACE "\"[^\"]*\"" "" code "${code}")
      if(code MATCHES "${banned}")
        string(APPEND faults "${file}: ${line}\n  not in a room that is ${KIND}: '${CMAKE_MATCH_2}' can differ between machines\n")
      endif()
    endforeach()
  endif()
endforeach()

if(faults)
  message(FATAL_ERROR "${faults}")
endif()
