; Rain barrel gauge, Tidewater field station, evening lab 1.
;
; The float turns a potentiometer; the converter makes 20 mV steps of its voltage, and one step is one centimetre of
; water. The program starts a conversion, waits for its end-of-conversion interrupt, turns the eight bits into three
; decimal digits and shows them. From 200 cm on the overflow lamp is lit.

        cpu     mc6800

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
start:  lds     #$007F
        clr     CRA             ; data direction registers selected
        clr     CRB
        clr     PORTA           ; port A: inputs
        ldaa    #$04            ; port B: at rest first, then outputs, so that no lamp flashes
        staa    CRB
        ldab    #SHUT+LAMPOFF
        stab    PORTB
        clr     CRB
        ldab    #$FF
        stab    PORTB
        staa    CRB
        ldaa    #IDLE
        staa    CRA
        cli

measure:
        ldaa    #STROBE         ; WR low resets the converter, its rise starts it
        staa    CRA
        ldaa    #IDLE
        staa    CRA
        wai                     ; the interrupt handler leaves the reading in level
        bsr     show
        bra     measure

; Shows level as three digits, the highest first.
show:   ldab    #LAMPOFF
        ldaa    level
        cmpa    #FULL
        bcs     below
        clrb
below:  stab    lamp
        ldab    #100
        bsr     digit
        orab    #SHUT-$10       ; open the left latch
        bsr     latch
        ldab    #10
        bsr     digit
        orab    #SHUT-$20
        bsr     latch
        tab                     ; what is left are the ones
        orab    #SHUT-$40
        bsr     latch
        rts

; Divides A by B by subtraction: quotient to B, remainder to A.
digit:  pshb
        tsx                     ; the divisor is at 0,x
        clrb
more:   cmpa    0,x
        bcs     done
        suba    0,x
        incb
        bra     more
done:   ins
        rts

; Writes the digit in B with one latch open, then shuts it.
latch:  orab    lamp
        stab    PORTB
        orab    #SHUT
        stab    PORTB
        rts

; End of conversion.
converted:
        ldaa    PORTA           ; clears the interrupt flag, too
        staa    level
        rti

; Nothing else should interrupt: stay here, where a single-step shows it.
astray: bra     astray

        org     $FFF8
        fdb     converted       ; IRQ
        fdb     astray          ; SWI
        fdb     astray          ; NMI
        fdb     start           ; RESET
