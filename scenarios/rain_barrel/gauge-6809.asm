; Rain barrel gauge, Tidewater field station, evening lab 1, with an MC6809 in the socket.
;
; Wiring and behaviour are those of gauge.asm. The program is written the way the MC6809 likes it: digits travel on the
; U stack, tables are found from the program counter, and division by ten is a multiplication.

        cpu     mc6809

PORTA   equ     $4000   ; converter's data
CRA     equ     $4001
PORTB   equ     $4002   ; bits 0-3 digit, 4-6 latches (low: open), 7 overflow lamp (low: lit)
CRB     equ     $4003

STROBE  equ     $35     ; CRA: CA2 low, CA1 interrupts on its fall, port selected
IDLE    equ     $3D     ; the same with CA2 high
SHUT    equ     $70     ; all three latches shut
LAMPOFF equ     $80
FULL    equ     200     ; centimetres

        org     $0000
level:  rmb     1               ; the latest reading
lamp:   rmb     1               ; what bit 7 of port B shows

        org     $F800
start:  lds     #$0080          ; S points to the byte pushed last
        ldu     #$0040
        ldx     #PORTA
        clr     CRA-PORTA,x     ; data direction registers selected
        clr     CRB-PORTA,x
        clr     ,x              ; port A: inputs
        lda     #$04            ; port B: at rest first, then outputs, so that no lamp flashes
        sta     CRB-PORTA,x
        ldb     #SHUT+LAMPOFF
        stb     PORTB-PORTA,x
        clr     CRB-PORTA,x
        ldb     #$FF
        stb     PORTB-PORTA,x
        sta     CRB-PORTA,x
        ldb     #IDLE
        stb     CRA-PORTA,x

measure:
        lda     #STROBE         ; WR low resets the converter, its rise starts it
        sta     CRA
        lda     #IDLE
        sta     CRA
        cwai    #$EF            ; I = 0; the interrupt handler leaves the reading in level
        bsr     show
        bra     measure

; Shows level as three digits, the highest first.
show:   lda     #LAMPOFF
        ldb     level
        cmpb    #FULL
        blo     below
        clra
below:  sta     lamp
        bsr     split           ; the ones
        bsr     split           ; the tens
        pshu    b               ; what is left are the hundreds
        leay    latches,pcr
        ldb     #3
digit:  pulu    a
        ora     ,y+
        ora     lamp
        sta     PORTB           ; with one latch open,
        ora     #SHUT
        sta     PORTB           ; with all of them shut
        decb
        bne     digit
        rts
latches fcb     SHUT-$10,SHUT-$20,SHUT-$40

; Takes the lowest decimal digit off B and pushes it on U. 205/2048 is a tenth, near enough for every byte.
split:  pshs    b
        lda     #205
        mul
        lsra
        lsra
        lsra
        pshs    a               ; the quotient
        ldb     #10
        mul
        negb
        addb    1,s             ; the remainder
        pshu    b
        puls    b
        leas    1,s
        rts

; End of conversion.
converted:
        lda     PORTA           ; clears the interrupt flag, too
        sta     level
        rti

; Nothing else should interrupt: stay here, where a single-step shows it.
astray: bra     astray

        org     $FFF2
        fdb     astray          ; SWI3
        fdb     astray          ; SWI2
        fdb     astray          ; FIRQ
        fdb     converted       ; IRQ
        fdb     astray          ; SWI
        fdb     astray          ; NMI
        fdb     start           ; RESET
