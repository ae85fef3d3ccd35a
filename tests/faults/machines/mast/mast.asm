; Weather mast display, Tidewater field station.
;
; NMI is a tick of 500 Hz: each lights the next of four digits. The cups interrupt by way of CA1; the program counts them
; for 200 ms, in decimal, and shows the count behind the direction of the vane.

        cpu     mc6800

SEG     equ     $5000   ; segments a-g in bits 0-6
SEL     equ     $5001   ; bits 0-3: digits, low: lit
VANE    equ     $5002   ; bits 0-2
PORTA   equ     $5010   ; not used; a read clears the cups' flag
CRA     equ     $5011   ; CA1: the cups
PORTB   equ     $5012   ; bit 0: lamp (low: lit)
CRB     equ     $5013

GATE    equ     100     ; ticks
GALE    equ     $15     ; counts, in decimal

        org     $0000
digits: rmb     4               ; what the scan shows
place:  rmb     2               ; the digit whose turn it is
turn:   rmb     1               ; its bit low
gate:   rmb     1               ; ticks to go
cups:   rmb     1               ; counts so far
wind:   rmb     1               ; counts of the last gate
entry:  rmb     2

        org     $F800
start:  lds     #$03FF
        ldx     #digits
        stx     place
clear:  clr     0,x
        inx
        cpx     #digits+4
        bne     clear
        ldaa    #$FE
        staa    turn
        ldaa    #GATE
        staa    gate
        clr     cups
        clr     wind
        clr     CRB             ; data direction register selected
        ldaa    #$01
        staa    PORTB           ; the lamp's line: output
        ldaa    #$04
        staa    CRB
        ldaa    #$01
        staa    PORTB           ; dark
        ldaa    #$05            ; the fall of CA1 interrupts
        staa    CRA
        cli

loop:   wai                     ; for the tick or the cups
        ldaa    gate
        bne     compose
        ldaa    #GATE
        sei
        staa    gate
        ldaa    cups
        clr     cups
        cli
        staa    wind
        ldab    #$01
        cmpa    #GALE
        bcs     calm
        clrb
calm:   stab    PORTB
compose:
        ldaa    VANE
        anda    #$07
        bsr     glyph
        staa    digits
        ldaa    #$40            ; a dash
        staa    digits+1
        ldaa    wind
        lsra
        lsra
        lsra
        lsra
        bsr     glyph
        staa    digits+2
        ldaa    wind
        anda    #$0F
        bsr     glyph
        staa    digits+3
        bra     loop

; The segments of digit A.
glyph:  ldx     #font
        stx     entry
        adda    entry+1
        staa    entry+1
        ldaa    entry
        adca    #0
        staa    entry
        ldx     entry
        ldaa    0,x
        rts

font:   fcb     $3F,$06,$5B,$4F,$66,$6D,$7D,$07,$7F,$6F

; 500 times a second: the next digit.
scan:   ldaa    #$FF
        staa    SEL             ; dark while the segments change
        ldx     place
        ldaa    0,x
        staa    SEG
        ldaa    turn
        staa    SEL
        inx
        sec
        rola
        cmpa    #$EF
        bne     next
        ldaa    #$FE
        ldx     #digits
next:   staa    turn
        stx     place
        tst     gate
        beq     scanned
        dec     gate
scanned:
        rti

; A turn of the cups.
gust:   ldaa    PORTA           ; clears the flag
        ldaa    cups
        adda    #1
        daa
        staa    cups
        rti

; Nothing else should interrupt.
astray: bra     astray

        org     $FFF8
        fdb     gust            ; IRQ
        fdb     astray          ; SWI
        fdb     scan            ; NMI
        fdb     start           ; RESET
