# Completion of benchtimer for PowerShell. In your $PROFILE:
#     benchtimer completion powershell | Out-String | Invoke-Expression
# The program itself says what may stand at the cursor; see benchtimer completion --help.
# Written from the documentation of Register-ArgumentCompleter; not tried by the project.

Register-ArgumentCompleter -Native -CommandName benchtimer -ScriptBlock {
    param($wordToComplete, $commandAst, $cursorPosition)
    $words = @()
    foreach ($element in $commandAst.CommandElements) {
        if ($element.Extent.EndOffset -ge $cursorPosition) { break }
        if ($element -is [System.Management.Automation.Language.StringConstantExpressionAst]) {
            $words += $element.Value
        } else {
            $words += $element.Extent.Text
        }
    }
    $piece = $wordToComplete.Trim('"', "'")
    if ($piece -eq '' -and $PSVersionTable.PSVersion.Major -lt 7) { $piece = '""' }
    $program = $commandAst.CommandElements[0].Extent.Text
    & $program --complete powershell @words $piece 2>$null | ForEach-Object {
        $text, $told = $_ -split "`t", 2
        if ($text -eq ':file' -or $text -eq ':folder') {
            Get-ChildItem -Path "$piece*" -Directory:($text -eq ':folder') | ForEach-Object {
                $name = $_.Name
                if ($name -match "\s") { $name = "'" + ($name -replace "'", "''") + "'" }
                [System.Management.Automation.CompletionResult]::new($name)
            }
        } elseif ($text.StartsWith($piece, [StringComparison]::OrdinalIgnoreCase)) {
            $shown = if ($told) { $told } else { $text }
            $typed = if ($text -match "[\s'`$;&|(){}]") { "'" + ($text -replace "'", "''") + "'" } else { $text }
            [System.Management.Automation.CompletionResult]::new($typed, $text, 'ParameterValue', $shown)
        }
    }
}
