"""One example of each version of the TRC text format, after the examples in cantools' tests/test_logreader.py and
python-can's test/data (identifiers and data changed, files shortened)."""

V1_0 = """\
;##########################################################################
;   C:\\truck.trc
;
;    Start time: 11.09.2002 16:00:20.682
;
;    Columns description:
;    ~~~~~~~~~~~~~~~~~~~~~
;    +-current number in actual sample
;    |     +time offset of message (ms)
;    |     |        +ID of message (hex)
;    |     |        |    +data length code
;    |     |        |    |  +data bytes (hex) ...
;----+- ---+--- ----+--- + -+ -- -- ...
     1)    1841     0001 8  F0 01 02 03 04 05 06 07
     2)    1842     0008 4  ERROR 00 19 08 08
     3)    1843 FFFFFFFF 4  00 00 00 04 -- -- -- -- BUSLIGHT
     4)    1844     0100 3  RTR
     5)   11845 18FEF100 2  AA BB
"""

V1_1 = """\
;$FILEVERSION=1.1
;$STARTTIME=37704.5364870833
;
;   Start time: 24.03.2003 12:52:32.484
;---+--   ----+----  --+--  ----+---  +  -+ -- -- -- -- -- -- --
     1)      1059.9  Rx         0300  7  00 00 00 00 04 00 00
     2)      1298.9  Tx         0400  2  00 01
     3)      1346.8  Warng  FFFFFFFF  4  00 00 00 04  BUSLIGHT
     4)      1349.2  Error      0008  4  00 19 08 08
     5)     13352.7  Rx         0100  3  RTR
     6)     13352.8  Rx     18FEF100  0
"""

V1_2 = """\
;$FILEVERSION=1.2
;$STARTTIME=39878.6772258947
;---+-- ----+------ + --+-- ----+--- + -+ -- -- -- -- -- -- --
     1)    1059.900 1 Rx        0300 7  00 00 00 00 04 00 00
     2)    1283.231 2 Rx    18FEF100 2  AA BB
     3)    1346.834 1 Warng FFFFFFFF 4  00 00 00 08 BUSHEAVY
     4)    1349.222 1 Error     0008 4  00 19 08 08
     5)    1352.743 1 Rx        0100 3  RTR
"""

V1_3 = """\
;$FILEVERSION=1.3
;$STARTTIME=44656.4982577909614
;---+-- ------+------ +- --+-- ---+---- +- -+-- -+ -- -- -- -- -- -- --
     1)      6357.213 1  Rx        0401 -  8    00 01 02 03 04 05 06 07
     2)      6357.682 2  Tx    18FEF100 -  2    AA BB
     3)      6358.834 1  Warng FFFFFFFF -  4    00 00 00 04 BUSLIGHT
     4)     16377.180 1  Rx        0400 -  3    RTR
"""

V2_0 = """\
;$FILEVERSION=2.0
;$STARTTIME=42209.4075997106
;$COLUMNS=N,O,T,I,d,l,D
;---+-- ------+------ +- --+----- +- +- +- -- -- -- -- -- -- --
      1      1059.900 DT     0300 Rx 7  00 00 00 00 04 00 00
      2      1298.945 DT     0400 Tx 2  00 01
      3      1334.416 FD     0500 Tx 12 01 02 03 04 05 06 07 08 09 0A 0B 0C
      4      1334.522 ER          Rx    04 00 02 00 00
      5      1334.531 ST          Rx    00 00 00 08
      6      1334.643 EC          Rx    02 03
      7      1335.156 DT 18EFC034 Tx 8  01 02 03 04 05 06 07 08
      8     11336.543 RR     0100 Rx 3
"""

V2_1 = """\
;$FILEVERSION=2.1
;$STARTTIME=41766.4648963872
;$COLUMNS=N,O,T,B,I,d,R,L,D
;---+-- ------+------ +- +- --+----- +- +- +--- +- -- -- -- -- -- -- --
      1      1059.900 DT 1      0300 Rx -  7    00 00 00 00 04 00 00
      2      1298.945 DT 2      0400 Tx -  2    00 01
      3      1334.416 FB 1      0500 Tx -  9    01 02 03 04 05 06 07 08 09 0A 0B 0C
      4      1334.422 ER 1         - Rx -  5    04 00 02 08 09
      5      1334.424 EV 1  User-defined event for bus 1
      6      1334.425 EV -  User-defined event for all busses
      7      1334.431 ST 1         - Rx -  4    00 00 00 10
      8      1334.643 EC 2         - Rx -  2    02 03
      9      1335.156 DT 1  18EFC034 Tx -  8    01 02 03 04 05 06 07 08
     10     11336.543 RR 1      0100 Rx -  3
     11     11336.544 BI 1  18EFC034 Rx -  1    FF
     12     11336.545 FE 1  18EFC034 Rx -  1    FF
"""

ALL = {"1.0": V1_0, "1.1": V1_1, "1.2": V1_2, "1.3": V1_3, "2.0": V2_0, "2.1": V2_1}
